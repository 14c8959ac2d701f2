"""Forms for entering operations. Each form plans its operation again after every change."""
