"""The form for a pattern of circles, dots, slots and arcs, with its figures and its drawing."""
