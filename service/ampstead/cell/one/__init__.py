"""One pack, in plain floats: charged, loaded, flown, warmed."""
