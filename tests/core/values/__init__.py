"""Tests of values from outside the program: quantities, dials, sizes with limits, ISO 286, old names."""
