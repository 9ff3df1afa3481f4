"""Settings that hold for all tests."""

from __future__ import annotations

import pytest
from hypothesis import settings

# A busy machine is no failure: time is held by the benchmarks. Examples stay random, so that each run tries new ones.
settings.register_profile("no deadline", deadline=None, print_blob=True)
settings.load_profile("no deadline")


def pytest_addoption(parser: pytest.Parser) -> None:
    """How many cases the fuzz run tries, and of which seed."""
    parser.addoption("--fuzz-cases", default="2000", help="cases of nearly right input to try (tests/fuzz)")
    parser.addoption("--fuzz-seed", default="0", help="seed of these cases")
