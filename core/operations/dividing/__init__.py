"""Divides a full turn: exact positions, settings of the rotary table, and numbers that divide exactly."""
