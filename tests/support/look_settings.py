"""The project's real settings with the few pages of look_pages in place of the site's own."""

from __future__ import annotations

from pathlib import Path

from classroom.settings import *  # noqa: F403
from classroom.settings import TEMPLATES as REAL_TEMPLATES

ROOT_URLCONF = "tests.support.look_pages"
TEMPLATES = [
    {**REAL_TEMPLATES[0], "DIRS": [*REAL_TEMPLATES[0]["DIRS"], Path(__file__).parent / "look_templates"]}
]
