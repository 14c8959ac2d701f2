"""Job files: read, written and changed; the card of a job as data."""
