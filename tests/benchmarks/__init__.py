"""How long solving takes, against named references in the same run: ``python -m tests.benchmarks``."""
