"""Bringing a rotary table's axis (or another) to the spindle's: measuring, lifting on a stack, measuring again.

Signs: height + means the other axis is above the spindle's; near + means it is nearer to the operator.
"""
