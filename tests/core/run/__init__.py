"""Tests of core/run."""
