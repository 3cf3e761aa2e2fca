"""A gauge on a serial port."""
