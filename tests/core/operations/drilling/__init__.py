"""Tests of holes drilled on the spindle's axis."""
