"""Tests of core/jobs."""
