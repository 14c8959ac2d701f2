"""Tests of patterns of circles."""
