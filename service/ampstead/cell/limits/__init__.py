"""What temperature and low voltage leave of a charge."""
