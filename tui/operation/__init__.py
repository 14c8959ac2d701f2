"""The form of one operation: its fields, and what is planned from them."""
