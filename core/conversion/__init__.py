"""Answers a question such as "1 1/4 in" in all units, and with the readings of the lathe's dials."""
