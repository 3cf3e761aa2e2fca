"""A gauge that listens on a network."""
