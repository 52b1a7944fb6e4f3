"""Saves rubrics: a class's first one, every edit as a version of its own, and those a teacher keeps."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from design_challenges.models import ClassChallenge, Criterion, Rubric
from design_challenges.services.entries import bump_revision
from design_challenges.services.marking.usual import Draft, usual_rubric
from design_challenges.services.marks import find_rubric

if TYPE_CHECKING:
    from django.contrib.auth.models import User


def draft_of(criterion: Criterion) -> Draft:
    """Return a saved criterion as a draft of the next version."""
    return Draft(
        key=criterion.key,
        title=criterion.title,
        short=criterion.short,
        levels=(criterion.level_1, criterion.level_2, criterion.level_3, criterion.level_4),
        codes=tuple(criterion.codes.split()),
        evidence=criterion.evidence,
        weight=criterion.weight,
    )


def start_usual(challenge: ClassChallenge, grade: int, user: User | None) -> Rubric:
    """Give a class the usual rubric of a grade."""
    name = _("Usual rubric, grade {grade}").format(grade=grade)
    return save_version(challenge, name, grade, usual_rubric(grade), user)


def copy_rubric(challenge: ClassChallenge, source: Rubric, user: User | None) -> Rubric:
    """Give a class a rubric that was saved elsewhere."""
    drafts = [draft_of(criterion) for criterion in source.criteria.all()]
    return save_version(challenge, source.name, source.grade, drafts, user)


@transaction.atomic
def save_version(
    challenge: ClassChallenge, name: str, grade: int, drafts: Sequence[Draft], user: User | None
) -> Rubric:
    """Add a version of a class's rubric; the same as the newest one adds nothing and gives that."""
    ClassChallenge.objects.select_for_update().get(pk=challenge.pk)
    newest = find_rubric(challenge)
    if newest is not None and _same(newest, name, grade, drafts):
        return newest
    last = challenge.rubrics.aggregate(last=Max("version"))["last"] or 0
    rubric = Rubric.objects.create(
        class_challenge=challenge, version=last + 1, name=name, grade=grade, made_by=user
    )
    _add_criteria(rubric, drafts)
    bump_revision(challenge.pk)
    return rubric


@transaction.atomic
def keep(rubric: Rubric, owner: User, name: str) -> Rubric:
    """Keep a class's rubric as the teacher's own under a name; one of that name is replaced."""
    Rubric.objects.filter(owner=owner, name=name).delete()
    kept = Rubric.objects.create(owner=owner, name=name, grade=rubric.grade, made_by=owner)
    _add_criteria(kept, [draft_of(criterion) for criterion in rubric.criteria.all()])
    return kept


def kept_by(owner: User) -> Iterable[Rubric]:
    """Return the rubrics that a teacher keeps, by name."""
    return Rubric.objects.filter(owner=owner).order_by("name")


def _add_criteria(rubric: Rubric, drafts: Sequence[Draft]) -> None:
    Criterion.objects.bulk_create(
        Criterion(
            rubric=rubric,
            key=draft.key,
            place=place,
            title=str(draft.title),
            short=str(draft.short),
            weight=draft.weight,
            codes=" ".join(draft.codes),
            evidence=draft.evidence,
            **{f"level_{level}": str(words) for level, words in enumerate(draft.levels, start=1)},
        )
        for place, draft in enumerate(drafts, start=1)
    )


def _same(rubric: Rubric, name: str, grade: int, drafts: Sequence[Draft]) -> bool:
    return (rubric.name, rubric.grade) == (name, grade) and [
        draft_of(criterion) for criterion in rubric.criteria.all()
    ] == [_spelled(draft) for draft in drafts]


def _spelled(draft: Draft) -> Draft:
    first, second, third, fourth = map(str, draft.levels)
    return replace(
        draft, title=str(draft.title), short=str(draft.short), levels=(first, second, third, fourth)
    )
