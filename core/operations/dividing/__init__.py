"""Dividing a full turn: exact positions, settings of the rotary table, and the numbers that a table divides exactly."""
