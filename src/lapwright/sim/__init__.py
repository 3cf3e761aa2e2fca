"""The simulated shop: wafers, gauges, carriers, bonds, plates, jigs and a room that behave.

For the demonstration, for teaching and for tests. The generators have formulas of their own and import neither
`metrology` nor `process`, so that no test checks a formula with itself; only `scenario` plays through `app`. Every
generator takes a seeded NumPy generator as an argument and keeps the truth beside the readings. SI throughout; the
frames and signs are those of the model. All data made here are invented.
"""
