"""Converts a quantity such as "1 1/4 in" into all units, and gives the readings of the lathe's dials for it."""
