"""Tests of tui/board."""
