"""Tests of core/values."""
