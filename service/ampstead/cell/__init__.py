"""The physics of one cell and one pack, in SI floats and numpy arrays."""
