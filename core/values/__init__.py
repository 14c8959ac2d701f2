"""Text, numbers with units, fields, files and dials from outside the program, and the errors in them."""
