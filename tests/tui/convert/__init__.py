"""Tests of tui/convert."""
