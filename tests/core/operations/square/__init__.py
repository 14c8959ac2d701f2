"""Tests of the `square` operation."""
