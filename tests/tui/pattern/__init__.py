"""Tests of tui/pattern."""
