"""Dividing the circle: exact targets, what a table's dial or plate is set to, what can be divided exactly."""
