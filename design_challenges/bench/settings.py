"""The project's settings with the two bare views of the benchmark beside the project's own addresses."""

from __future__ import annotations

from classroom.settings import *  # noqa: F403

ROOT_URLCONF = "design_challenges.bench.urls"
