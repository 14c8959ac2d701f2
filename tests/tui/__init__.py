"""Tests of halfnut."""
