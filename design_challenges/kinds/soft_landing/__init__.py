"""The soft landing: a round canopy on lines lowers a small load; all about canopies is here."""

from __future__ import annotations

from design_challenges.kinds.soft_landing.kind import SOFT_LANDING

__all__ = ["SOFT_LANDING"]
