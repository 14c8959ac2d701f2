"""The conversion page: a quantity in every unit and on every dial."""
