"""Tests of tui/history."""
