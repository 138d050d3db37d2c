"""Settings for the whole suite."""

from __future__ import annotations

from hypothesis import settings

# The same examples on every machine and in every run: a failure is always one that can be had again.
settings.register_profile("gingerly", derandomize=True, deadline=None)
settings.load_profile("gingerly")
