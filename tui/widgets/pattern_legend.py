"""What the signs of a run's picture mean; apart from the drawing, which only a pattern needs."""

LEGEND = "Solid: cut. Close dots: begun. Wide dots: to come. The number: the position at hand."
ASCII_LEGEND = "#: cut. +: begun. Numbers and dots: to come. In [ ]: the position at hand."
