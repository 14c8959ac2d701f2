"""Sets how many examples the property tests of core try. The long trials are in tests.trials."""

from hypothesis import settings

# No deadline: a computer that is busy with other work is no failure.
settings.register_profile("core", max_examples=50, deadline=None)
settings.load_profile("core")
