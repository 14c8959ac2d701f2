"""The logbook: stores the events of all runs in one SQLite file, so that no power cut loses a logged event."""
