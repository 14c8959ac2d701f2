"""Tests of the operations. Each package of core.operations has a folder here."""
