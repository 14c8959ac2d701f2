"""Tests of core/logbook."""
