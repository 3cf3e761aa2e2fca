"""The work itself: loads, motion, removal, damage, jig, preset, decisions, routes.

Arrays and values of the model in, numbers and values out. No file, clock, log or global random state: a generator is
an argument. SI inside.
"""
