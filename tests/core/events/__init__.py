"""Tests of the events of a run and of the state that they lead to."""
