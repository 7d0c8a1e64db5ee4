"""Settings shared by all tests."""

from hypothesis import settings

# Shared machines stall for moments; what must be quick is timed by tests that say so.
settings.register_profile("settscan", deadline=None)
settings.load_profile("settscan")
