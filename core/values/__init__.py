"""Reads what comes from outside the program: text, numbers with units, fields, files, dials. And its errors."""
