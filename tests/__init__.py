"""Tests; a package, so that they can share helpers and `python -m tests.benchmarks` finds ours."""
