"""Job files: reads, writes and changes them, and provides the card of a job as data."""
