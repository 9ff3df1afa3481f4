"""Settings that hold for all tests."""

from __future__ import annotations

from hypothesis import settings

# A busy machine is no failure: time is held by the benchmarks. Examples stay random, so that each run tries new ones.
settings.register_profile("no deadline", deadline=None, print_blob=True)
settings.load_profile("no deadline")
