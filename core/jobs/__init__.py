"""Reads, writes and changes job files, and provides the card of a job as data."""
