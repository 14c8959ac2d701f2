"""The forms of operations: the fields of one operation, and what is planned from them."""
