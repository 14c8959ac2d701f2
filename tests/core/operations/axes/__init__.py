"""Tests of bringing two axes together."""
