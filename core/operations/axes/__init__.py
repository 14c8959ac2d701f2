"""Brings the axis of a rotary table, or another axis, to the spindle's axis: measure, lift on a stack, measure again.

Signs: a height is above 0 if the other axis is above the spindle's. A near error is above 0 if the other axis is nearer
to the operator.
"""
