"""Tests of the lathe: its file, its keys and its set-up."""
