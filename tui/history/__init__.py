"""What was logged, and writing it to a file."""
