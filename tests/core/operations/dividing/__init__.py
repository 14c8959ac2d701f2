"""Tests of dividing on the rotary table."""
