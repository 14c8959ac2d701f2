"""Job files: reading, writing and changing them, and the card of a job as data."""
