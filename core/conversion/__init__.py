"""Converts a user's question, such as "1 1/4 in", into all units and into readings of the lathe's dials."""
