"""Tests of tui/operation."""
