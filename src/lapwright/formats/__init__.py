"""Files in and out: readings, orders, outlines, result dictionaries.

Here, and nowhere further in, numbers carry units in their names. Every reader names all faults of a file at once.
"""
