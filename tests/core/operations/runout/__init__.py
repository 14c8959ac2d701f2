"""Tests of measuring and removing runout."""
