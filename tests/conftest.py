"""Settings of all tests."""

from hypothesis import settings

# No test is timed: the first call of a compiled loop, or a busy machine, takes as long as it takes.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
