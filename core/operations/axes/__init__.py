"""Brings the axis of a rotary table, or another axis, in line with the spindle's: measure, lift on a stack, measure
again.

Signs: a height error is above 0 if the other axis is higher than the spindle's. A near error is above 0 if the other
axis is nearer to the operator.
"""
