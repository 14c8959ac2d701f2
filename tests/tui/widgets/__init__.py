"""Tests of tui/widgets."""
