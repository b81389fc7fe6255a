"""What calculators ask for alike: the pack, its warming, a source, and single inputs that are shared."""
