"""Reads a class and gives its analysis, kept until the class changes: polls and readers share one."""

from __future__ import annotations

from collections import OrderedDict
from fractions import Fraction
from threading import Lock

from django.utils.translation import get_language

from design_challenges.models import ClassChallenge
from design_challenges.services.analysis.analyse import Analysis, analyse
from design_challenges.services.record_types import ClassRecord
from design_challenges.services.reference import read_reference

MOST_KEPT = 32
Key = tuple[object, ...]

_kept: OrderedDict[Key, Analysis] = OrderedDict()
_lock = Lock()


def class_analysis(
    klass: ClassRecord,
    margin: float | None = None,
    *,
    largest: Fraction | None = None,
    letters: bool = False,
) -> Analysis:
    """Return the analysis of a class as it stands; the same revision is not analysed twice.

    `klass` must have been loaded with its challenge's revision (`records.find_challenge`): what was saved
    while it was being read has a later revision, and is analysed when that is asked for. `margin`, `largest`
    and `letters` are `analyse`'s.
    """
    challenge = klass.challenge
    # Names are no part of the challenge's revision, and a code keeps classes of other databases apart.
    names = tuple((team.team.pk, team.team.name) for team in klass.teams)
    state = (challenge.classroom.code, challenge.pk, _revision(challenge), names)
    key = (*state, margin, largest, letters, get_language())
    with _lock:
        if key in _kept:
            _kept.move_to_end(key)
            return _kept[key]
    found = analyse(klass, margin, reference=read_reference(challenge), largest=largest, letters=letters)
    with _lock:
        _kept[key] = found
        while len(_kept) > MOST_KEPT:
            _kept.popitem(last=False)
    return found


def _revision(challenge: ClassChallenge) -> int:
    return challenge.revision.number if hasattr(challenge, "revision") else 0
