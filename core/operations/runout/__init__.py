"""Runout: from indicator readings to how far off, which way, and the move that cures it.

Signs and directions are stated once, in core.operations.runout.readings.
"""
