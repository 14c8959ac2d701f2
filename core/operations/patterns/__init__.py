"""Patterns of circles, dots, slots and arcs, cut into work on a rotary table by a cutter in the spindle."""
