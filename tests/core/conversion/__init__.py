"""Tests of converting a question into all units."""
