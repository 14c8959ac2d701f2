"""Divides the circle: exact positions, settings of a table's dial or plates, and numbers that divide exactly."""
