"""The logbook: runs kept in one SQLite file, which no power cut loses."""
