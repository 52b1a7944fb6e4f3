"""The kinds of challenge there are, by slug."""

from __future__ import annotations

from design_challenges.kinds.base import Kind
from design_challenges.kinds.soft_landing import SOFT_LANDING

KINDS: dict[str, Kind] = {kind.slug: kind for kind in [SOFT_LANDING]}


def get_kind(slug: str) -> Kind:
    """Return the kind with this slug; KeyError for one that is not installed."""
    return KINDS[slug]
