"""Tests of core, in folders that mirror its folders."""
