"""Tests of core/pages."""
