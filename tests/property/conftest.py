"""How long property tests search: short in every run, long where FANWRIGHT_SOAK is set."""

from __future__ import annotations

import os

from hypothesis import settings

settings.register_profile("short", max_examples=100, deadline=None, derandomize=True)
settings.register_profile("soak", max_examples=20_000, deadline=None)
settings.load_profile("soak" if os.environ.get("FANWRIGHT_SOAK") else "short")
