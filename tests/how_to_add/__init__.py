"""Adds what DEVELOPERS.md explains how to add: an operation, a unit, a caution, a thread form."""
