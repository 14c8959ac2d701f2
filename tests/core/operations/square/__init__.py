"""Tests of squaring."""
