"""Hypothesis profiles: ``dev`` for every day, ``ci`` for the full check."""

from hypothesis import settings

settings.register_profile("dev", max_examples=50, deadline=None)
settings.register_profile("ci", max_examples=500, deadline=None, derandomize=True)
settings.load_profile("dev")
