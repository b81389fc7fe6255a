"""A raw question turned into SI values, or into every error at once."""
