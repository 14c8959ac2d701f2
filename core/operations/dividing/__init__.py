"""Dividing the circle: exact positions, settings of a table's dial or plates, and which numbers divide exactly."""
