"""Forms in which the user enters one operation. A form plans its operation after every change."""
