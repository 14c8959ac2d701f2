"""Tests of tui/counter."""
