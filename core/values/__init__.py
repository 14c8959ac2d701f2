"""Values from outside the program: text, numbers with units, fields, files and dials, and the errors in them."""
