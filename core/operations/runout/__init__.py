"""Runout: from indicator readings to eccentricity, high spot, and the moves that remove it.

Signs and directions are defined once, in core.operations.runout.readings.
"""
