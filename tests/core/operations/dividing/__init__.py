"""Tests of setting a rotary table to divisions of a turn."""
