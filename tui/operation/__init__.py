"""One operation on a form: its fields, and what comes of them."""
