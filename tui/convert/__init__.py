"""The conversion page, which shows a length, an angle or another quantity in every unit and on every dial."""
