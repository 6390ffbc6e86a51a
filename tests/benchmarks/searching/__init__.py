"""The parts of the search benchmark; start it with ``python -m tests.benchmarks.search``."""
