"""What templates load."""
