"""A quantity in every unit and on every dial."""
