"""Patterns of circles cut with a boring head."""
