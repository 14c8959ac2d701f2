"""Tests of tui/setup."""
