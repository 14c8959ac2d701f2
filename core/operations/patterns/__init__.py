"""Patterns of circles, cut by a boring head into work on a rotary table."""
