"""Tests of the screens in tui/setup."""
