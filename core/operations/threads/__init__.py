"""Screw threads: designations, profiles, limits of size, tools, passes and measurements."""
