"""Tests of core/events."""
