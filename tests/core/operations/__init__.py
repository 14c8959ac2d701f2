"""Tests of core/operations."""
