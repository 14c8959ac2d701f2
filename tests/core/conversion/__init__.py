"""Tests of core/conversion."""
