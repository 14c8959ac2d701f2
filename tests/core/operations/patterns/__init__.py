"""Tests of patterns."""
