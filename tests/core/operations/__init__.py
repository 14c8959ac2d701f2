"""Tests of the operations, a room each."""
