"""Settings of the property tests: no time limit, and the same examples on every run."""

from hypothesis import settings

settings.register_profile("motiffit", deadline=None, derandomize=True, max_examples=60)
settings.load_profile("motiffit")
