"""Tests of core/operations/runout."""
