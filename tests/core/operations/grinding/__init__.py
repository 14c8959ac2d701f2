"""Tests of grinding a cutter."""
