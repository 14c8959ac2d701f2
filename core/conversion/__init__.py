"""Conversion: one text in, every reading of it out, the dials of the user's lathe among them."""
