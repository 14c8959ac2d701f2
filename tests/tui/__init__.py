"""Tests of the screens of halfnut and of its command line."""
