"""Sets a challenge up for a class: usual values, presets, versions and what differs between two of them."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django.db import transaction
from django.db.models import Count, Max
from django.utils.translation import gettext_lazy as _

from classroom.models import Classroom
from design_challenges.kinds import get_kind
from design_challenges.kinds.base import Kind, SettingField
from design_challenges.models import ChallengeSettings, ClassChallenge, DesignIteration, StepGate
from design_challenges.services.entries import bump_revision
from design_challenges.services.units import SYSTEMS
from design_challenges.steps import Step
from design_challenges.words import Words

if TYPE_CHECKING:
    from django.contrib.auth.models import User

# A whole set of settings as text, by slug, with "unit_system" among them.
Texts = Mapping[str, str]


def _same(text: str) -> dict[str, str]:
    return dict.fromkeys(SYSTEMS, text)


COMMON = [
    SettingField(
        "rounds",
        _("Rounds"),
        _("How often each team builds: the second build is the point of it all."),
        "whole",
        _same("2"),
        least=Decimal(1),
        most=Decimal(9),
        group="course",
    ),
    SettingField(
        "trials_per_round",
        _("Trials a round"),
        _("How often each device is dropped. Three is usual; five steady the mean."),
        "whole",
        _same("3"),
        least=Decimal(2),
        most=Decimal(10),
        group="course",
    ),
    SettingField(
        "drawing_required",
        _("Labelled drawing before building"),
        _("On paper, as a photo or sketched on the screen."),
        "choice",
        _same("yes"),
        choices=[("yes", _("required")), ("no", _("left to the teams"))],
        group="course",
    ),
    SettingField(
        "sums_by",
        _("Who works the sums"),
        _("The children work and the software checks, or the software does the sums."),
        "choice",
        _same(ChallengeSettings.Sums.CHILDREN.value),
        choices=ChallengeSettings.Sums.choices,
        group="sums",
    ),
    SettingField(
        "average",
        _("Average"),
        _("The middle one needs no sum: put the times in order and take the one in the middle."),
        "choice",
        _same(ChallengeSettings.Average.MEAN.value),
        choices=ChallengeSettings.Average.choices,
        group="sums",
    ),
]

GROUPS: dict[str, Words] = {
    "course": _("How it runs"),
    "sizes": _("The drop"),
    "limit": _("Material limit"),
    "measuring": _("Measuring"),
    "sums": _("Sums"),
    "rounding": _("Rounding"),
}


def setting_fields(kind: Kind) -> list[SettingField]:
    """Return every setting of a kind, the common ones first."""
    return [*COMMON, *kind.setting_fields]


def grouped(kind: Kind) -> list[tuple[Words, list[SettingField]]]:
    """Return the settings by group, in the order of the set-up page."""
    groups: dict[str, list[SettingField]] = {slug: [] for slug in GROUPS}
    for setting in setting_fields(kind):
        groups.setdefault(setting.group, []).append(setting)
    return [(GROUPS.get(slug, slug), fields) for slug, fields in groups.items() if fields]


# --- usual values ----------------------------------------------------------------------------


def usual_texts(kind: Kind, unit_system: str, preset: str) -> dict[str, str]:
    """Return the usual settings in a unit system, with a preset's own; KeyError for an unknown preset."""
    texts = {setting.slug: setting.defaults[unit_system] for setting in setting_fields(kind)}
    return {**texts, **_preset_texts(kind, preset), "unit_system": unit_system}


def _preset_texts(kind: Kind, slug: str) -> dict[str, str]:
    preset = {preset.slug: preset for preset in kind.presets}[slug]
    return {**{name: _as_text(value) for name, value in preset.common.items()}, **preset.values}


def _as_text(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)


def refill(kind: Kind, typed: Texts, unit_system: str, preset: str) -> dict[str, str]:
    """Return what a form shows after units or preset were switched.

    Refilled is whatever differs between the unit systems or belongs to any preset;
    all else stays as it was typed.
    """
    usual = usual_texts(kind, unit_system, preset)
    ours = {name for each in kind.presets for name in (*each.common, *each.values)}
    kept = {
        setting.slug: typed[setting.slug]
        for setting in setting_fields(kind)
        if setting.slug in typed and setting.slug not in ours and len(set(setting.defaults.values())) == 1
    }
    return {**usual, **kept}


def preset_of(kind: Kind, texts: Texts) -> str:
    """Return the preset these settings agree with, the most telling one first, or the first of all."""
    for preset in sorted(kind.presets, key=lambda each: -len(each.common) - len(each.values)):
        if all(texts.get(name) == text for name, text in _preset_texts(kind, preset.slug).items()):
            return preset.slug
    return kind.presets[0].slug


# --- reading and telling ---------------------------------------------------------------------


def texts_of(challenge: ClassChallenge, settings: ChallengeSettings) -> dict[str, str]:
    """Return a stored version as texts; `rounds` is the class challenge's own and has no version."""
    kind = get_kind(challenge.kind)
    return {
        "unit_system": settings.unit_system,
        "rounds": str(challenge.rounds),
        "trials_per_round": str(settings.trials_per_round),
        "sums_by": settings.sums_by,
        "average": settings.average,
        "drawing_required": _as_text(settings.drawing_required),
        **{
            setting.slug: settings.values.get(setting.slug, setting.defaults[settings.unit_system])
            for setting in kind.setting_fields
        },
    }


def values_of(kind: Kind, texts: Texts) -> dict[str, Any]:
    """Return settings as the kind and its sums read them."""
    return {
        **{setting.slug: setting.read(texts[setting.slug]) for setting in setting_fields(kind)},
        "unit_system": texts["unit_system"],
        "drawing_required": texts["drawing_required"] == "yes",
    }


def told(setting: SettingField, texts: Texts) -> str:
    """Return one setting as a teacher reads it: '15 ft', 'a table'."""
    text = str(dict(setting.choices).get(texts[setting.slug], texts[setting.slug]))
    unit = setting.unit(SYSTEMS[texts["unit_system"]]) if setting.unit else ""
    return f"{text} {unit}".strip()


@dataclass(frozen=True)
class Line:
    """One setting in words."""

    label: Words
    help: Words
    text: str


def told_by_group(kind: Kind, texts: Texts) -> list[tuple[Words, list[Line]]]:
    """Return all settings in words, by group."""
    return [
        (title, [Line(setting.label, setting.help, told(setting, texts)) for setting in fields])
        for title, fields in grouped(kind)
    ]


@dataclass(frozen=True)
class Difference:
    """One setting that two versions disagree on."""

    label: Words
    old: str
    new: str


def differences(kind: Kind, old: Texts, new: Texts) -> list[Difference]:
    """Return what differs between two sets of settings, in the order of the set-up page."""
    found = []
    if old["unit_system"] != new["unit_system"]:
        names = (str(SYSTEMS[texts["unit_system"]].name) for texts in (old, new))
        found.append(Difference(_("Units"), *names))
    for _title, fields in grouped(kind):
        for setting in fields:
            if _differs(setting, old, new):
                found.append(Difference(setting.label, told(setting, old), told(setting, new)))
    return found


def _differs(setting: SettingField, old: Texts, new: Texts) -> bool:
    if setting.choices or setting.kind == "fraction":
        return old[setting.slug] != new[setting.slug]
    return Decimal(old[setting.slug]) != Decimal(new[setting.slug])


# --- who is held by what ---------------------------------------------------------------------


@dataclass(frozen=True)
class Begun:
    """How many teams have begun a round, and under which version of the settings."""

    number: int
    version: int
    teams: int


def rounds_begun(challenge: ClassChallenge) -> list[Begun]:
    """Return which rounds have begun under which version; these keep it whatever is saved later."""
    rows = (
        DesignIteration.objects.filter(class_challenge=challenge)
        .values_list("number", "settings__version")
        .annotate(teams=Count("pk"))
        .order_by("number", "settings__version")
    )
    return [Begun(*row) for row in rows]


def last_round_begun(challenge: ClassChallenge) -> int:
    """Return the last round that any team has begun, 0 before the first."""
    last = DesignIteration.objects.filter(class_challenge=challenge).aggregate(last=Max("number"))["last"]
    return last or 0


@dataclass(frozen=True)
class VersionNote:
    """One stored version: what it changed, and the rounds that it holds for."""

    settings: ChallengeSettings
    changes: Sequence[Difference]
    rounds: Sequence[Begun]


def history(challenge: ClassChallenge) -> list[VersionNote]:
    """Return all versions of a class challenge's settings, the newest first."""
    kind = get_kind(challenge.kind)
    begun = rounds_begun(challenge)
    notes: list[VersionNote] = []
    before: dict[str, str] | None = None
    for settings in challenge.settings_versions.select_related("made_by").order_by("version"):
        texts = texts_of(challenge, settings)
        changes = differences(kind, before, texts) if before is not None else []
        rounds = [row for row in begun if row.version == settings.version]
        notes.append(VersionNote(settings, changes, rounds))
        before = texts
    return notes[::-1]


# --- writing ---------------------------------------------------------------------------------


class StaleSettingsError(Exception):
    """Someone saved a newer version since the form was shown."""


def save_first(
    classroom: Classroom, kind: Kind, texts: Texts, open_steps: Collection[str], user: User | None
) -> ClassChallenge:
    """Set a kind up for a class: version 1, and the steps of round 1 that wait for the teacher closed.

    Sent twice it counts once: a class that has the kind keeps what it has.
    """
    with transaction.atomic():
        challenge, made = ClassChallenge.objects.get_or_create(
            classroom=classroom,
            kind=kind.slug,
            defaults={"kind_version": kind.version, "rounds": int(texts["rounds"])},
        )
        if made:
            _add_version(challenge, kind, texts, 1, user)
            StepGate.objects.bulk_create(
                StepGate(class_challenge=challenge, round=1, step=step, open=False)
                for step in Step.values
                if step not in open_steps
            )
            bump_revision(challenge.pk)
    return challenge


def save_version(challenge: ClassChallenge, texts: Texts, seen: int, user: User | None) -> ChallengeSettings:
    """Add a version of the settings; rounds that have begun keep theirs, later ones take this one.

    `seen` is the version that the form was made from: StaleSettingsError where there is a
    newer one. A change of the number of rounds alone makes no version.
    """
    kind = get_kind(challenge.kind)
    with transaction.atomic():
        locked = ClassChallenge.objects.select_for_update().get(pk=challenge.pk)
        newest = locked.settings_versions.order_by("-version")[:1].get()
        if newest.version != seen:
            raise StaleSettingsError
        rounds = int(texts["rounds"])
        if rounds != locked.rounds:
            locked.rounds = rounds
            locked.save(update_fields=["rounds"])
        if differences(kind, texts_of(locked, newest), texts):
            newest = _add_version(locked, kind, texts, newest.version + 1, user)
        bump_revision(locked.pk)
    return newest


def _add_version(
    challenge: ClassChallenge, kind: Kind, texts: Texts, version: int, user: User | None
) -> ChallengeSettings:
    return ChallengeSettings.objects.create(
        class_challenge=challenge,
        version=version,
        unit_system=texts["unit_system"],
        trials_per_round=int(texts["trials_per_round"]),
        sums_by=texts["sums_by"],
        average=texts["average"],
        drawing_required=texts["drawing_required"] == "yes",
        values={setting.slug: texts[setting.slug] for setting in kind.setting_fields},
        made_by=user,
    )
