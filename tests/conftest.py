"""Hypothesis without time limits (machines differ), and repeatable where CI runs it."""

import os

from hypothesis import settings

settings.register_profile("people", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "people")
