"""Tests of tui/runout."""
