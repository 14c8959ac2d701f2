"""What comes from outside, read once: text, numbers with units, fields, files, dials, and errors."""
