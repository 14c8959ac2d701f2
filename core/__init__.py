"""Calculations, plans and logbook of the program. No module in core imports a screen."""
