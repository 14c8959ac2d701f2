"""Runout: from indicator readings to the eccentricity, the high spot, and the moves that remove the runout.

Signs and directions are defined only in `core.operations.runout.readings`.
"""
