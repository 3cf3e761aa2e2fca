"""Fringe images to height maps."""
