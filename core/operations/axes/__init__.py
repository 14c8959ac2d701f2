"""Brings the axis of a rotary table, or another axis, to the spindle's: measure, lift on a stack, measure again.

Signs: height + means that the other axis is above the spindle's. Near + means that it is nearer to the operator.
"""
