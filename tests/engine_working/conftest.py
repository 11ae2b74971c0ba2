"""Hypothesis without its deadline: no test here asserts a time."""

from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
