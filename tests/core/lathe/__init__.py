"""Tests of the lathe: its file, its keys, set-up."""
