"""The calculations, the plans and the logbook of the program. No module in core imports a screen."""
