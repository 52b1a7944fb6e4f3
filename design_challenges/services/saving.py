"""What an entry adds to a round: sizes, notes, working, drops, readings, clearances.

Call these inside `entries.save_entry`; each adds rows and changes none.
"""

from __future__ import annotations

from decimal import Decimal

from django.db import transaction

from classroom.models import Student, Team
from classroom.prepared import Prepared, columns_of, instance_of
from design_challenges.models import (
    ClassChallenge,
    Clearance,
    DesignIteration,
    Drop,
    Judgement,
    Measurement,
    Note,
    Reading,
    Working,
)
from design_challenges.services.entries import Author, Conflict
from design_challenges.services.lengths import Length
from design_challenges.services.record_types import DropRecord, RoundRecord
from design_challenges.services.records import latest_settings, load_team, plan_as_json


def start_round(challenge: ClassChallenge, team: Team, number: int) -> DesignIteration:
    """Return the team's round, begun now with the newest settings where it had not been."""
    found = DesignIteration.objects.filter(class_challenge=challenge, team=team, number=number).first()
    if found is not None:
        return found
    with transaction.atomic():
        iteration, _made = DesignIteration.objects.get_or_create(
            class_challenge=challenge,
            team=team,
            number=number,
            defaults={"settings": latest_settings(challenge)},
        )
    return iteration


# What every drop's entry asks, inside the transaction for which the others wait.
_round_held = Prepared(
    lambda pk: (
        DesignIteration.objects.select_for_update().filter(pk=pk).values_list(*columns_of(DesignIteration))
    ),
    int,
)
_drop = Prepared(lambda pk: Drop.objects.filter(pk=pk).values_list(*columns_of(Drop)), int)
_readings_of_drop = Prepared(
    lambda drop: Reading.objects.filter(drop=drop).order_by("pk").values_list(*columns_of(Reading)), int
)
_said_of = {
    model: Prepared(
        lambda pk, name=name: (
            Judgement.objects.filter(**{name: pk}).order_by("-pk").values_list("counts")[:1]
        ),
        int,
    )
    for model, name in ((Drop, "drop"), (Reading, "reading"))
}


def lock_round(iteration_id: int) -> DesignIteration:
    """Hold a round while two tablets may save the same field of it (a row lock on PostgreSQL)."""
    iteration: DesignIteration = instance_of(DesignIteration, _round_held.rows(iteration_id)[0])
    return iteration


def find_drop(drop_id: int) -> Drop:
    """Return a drop by its row."""
    drop: Drop = instance_of(Drop, _drop.rows(drop_id)[0])
    return drop


def save_size(
    iteration: DesignIteration,
    stage: str,
    quantity: str,
    length: Length,
    author: Author,
    *,
    spot: int = 1,
    student: Student | None = None,
    seen: int | None = None,
    turn: int = 0,
    reader: str = "",
) -> Measurement:
    """Add a length; `seen` is the row id the form showed (0 for none), None skips the check.

    Raises Conflict where another tablet saved a different length since. `turn` 1 or 2 makes it one of
    two readings (`reader` says who took it where that was no further child of the team); another
    tablet's reading in between is then a Conflict whatever it says, as two children may well agree.
    """
    if seen is not None:
        newest = (
            Measurement.objects.filter(iteration=iteration, stage=stage, quantity=quantity, spot=spot)
            .order_by("-pk")
            .first()
        )
        if newest is not None and newest.pk != seen and (turn or not _same_length(newest, length)):
            raise Conflict(f"{quantity}_{spot}", newest.typed)
    return Measurement.objects.create(
        iteration=iteration,
        stage=stage,
        quantity=quantity,
        spot=spot,
        typed=length.typed,
        numerator=length.value.numerator,
        denominator=length.value.denominator,
        unit=length.unit.slug,
        student=student,
        turn=turn,
        reader=reader,
        **author.fields(),
    )


def _same_length(row: Measurement, length: Length) -> bool:
    return (row.numerator, row.denominator, row.unit) == (
        length.value.numerator,
        length.value.denominator,
        length.unit.slug,
    )


def save_note(
    iteration: DesignIteration, prompt: str, text: str, author: Author, *, seen: int | None = None
) -> Note:
    """Add a text or a choice; raises Conflict where another tablet saved a different one since `seen`."""
    if seen is not None:
        newest = Note.objects.filter(iteration=iteration, prompt=prompt).order_by("-pk").first()
        if newest is not None and newest.pk != seen and newest.text != text:
            raise Conflict(prompt, newest.text)
    return Note.objects.create(iteration=iteration, prompt=prompt, text=text, **author.fields())


def choose_idea(record: RoundRecord, letter: str, author: Author, *, seen: int | None = None) -> None:
    """Make idea A or B the plan: its sizes become the planned ones.

    Raises Conflict where another tablet chose the other one since `seen`.
    """
    stage = Measurement.Stage.IDEA_A if letter == "a" else Measurement.Stage.IDEA_B
    save_note(record.iteration, Note.Prompt.CHOSEN, letter, author, seen=seen)
    for row in Measurement.objects.filter(
        pk__in=[size.row_id for size in record.ideas[stage].values()]
    ).order_by("pk"):
        Measurement.objects.create(
            iteration=record.iteration,
            stage=Measurement.Stage.PLANNED,
            quantity=row.quantity,
            spot=row.spot,
            typed=row.typed,
            numerator=row.numerator,
            denominator=row.denominator,
            unit=row.unit,
            **author.fields(),
        )


def save_working(
    iteration: DesignIteration,
    step: str,
    basis: str,
    typed: str,
    verdict: str,
    author: Author,
    *,
    value: Decimal | None = None,
    slips: list[str] | None = None,
) -> Working:
    """Add one try at a step (or that its steps were shown)."""
    return Working.objects.create(
        iteration=iteration,
        step=step,
        basis=basis,
        typed=typed[:40],
        value="" if value is None else f"{value:f}",
        verdict=verdict,
        slips=slips or [],
        **author.fields(),
    )


def save_reading(
    iteration: DesignIteration,
    trial: int,
    hundredths: int,
    author: Author,
    *,
    source: str = Reading.Source.TEAM,
    confirmed: bool = False,
    mark: str = "",
    seen: int | None = None,
    called: Drop | None = None,
) -> Reading:
    """Add a stopwatch reading to the trial's open attempt, and keep it whatever else happens.

    `seen` is the reading's row id the form showed (0 for none). Where another tablet
    saved a different time since, this one is kept but set aside, so that the class
    figure does not change under anyone's hands; `settle_reading` makes it the one
    that stands. `mark` is "not_open" or "tangled" for a drop that counts but did so.
    `called` is the attempt the form was about: its time stays its own even where the drop
    was judged not to count meanwhile.
    """
    drop = called or open_attempt(iteration, trial, author)
    entered: list[Reading] = [instance_of(Reading, row) for row in _readings_of_drop.rows(drop.pk)]
    others = [reading for reading in entered if stands(reading)]
    standing = others[-1] if others else None
    if standing is not None and standing.hundredths == hundredths:
        return standing
    reading = Reading.objects.create(
        class_challenge_id=iteration.class_challenge_id,
        team_id=iteration.team_id,
        drop=drop,
        hundredths=hundredths,
        source=source,
        confirmed=confirmed,
        **author.fields(),
    )
    if standing is not None and seen is not None and standing.pk != seen:
        Judgement.objects.create(
            reading=reading, counts=False, reason=Judgement.Reason.SECOND_ENTRY, **author.fields()
        )
    elif mark and stands(drop):
        judge_drop(drop, True, mark, author)
    return reading


def stands(row: Drop | Reading) -> bool:
    """Return whether the newest judgement on a drop or a reading, if there is one, lets it count."""
    newest = _said_of[type(row)].row(row.pk)
    return newest is None or bool(newest.counts)


def call_drop(iteration: DesignIteration, trial: int, attempt: int, author: Author) -> Drop:
    """Call a drop good before its time is seen: from now on only a teacher can say it does not count."""
    drop, _made = Drop.objects.get_or_create(
        iteration=iteration, trial=trial, attempt=attempt, defaults=author.fields()
    )
    return drop


def open_attempt(iteration: DesignIteration, trial: int, author: Author) -> Drop:
    """Return the trial's newest attempt, or a further one where that was judged not to count."""
    newest = Drop.objects.filter(iteration=iteration, trial=trial).order_by("-attempt").first()
    if newest is not None and stands(newest):
        return newest
    attempt = newest.attempt + 1 if newest is not None else 1
    return Drop.objects.create(iteration=iteration, trial=trial, attempt=attempt, **author.fields())


def settle_reading(reading: Reading, author: Author) -> None:
    """Make one of several readings of a drop the one that stands; the others are kept, set aside."""
    for other in Reading.objects.filter(drop=reading.drop).exclude(pk=reading.pk):
        Judgement.objects.create(
            reading=other, counts=False, reason=Judgement.Reason.SECOND_ENTRY, **author.fields()
        )
    Judgement.objects.create(
        reading=reading, counts=True, reason=Judgement.Reason.SECOND_ENTRY, **author.fields()
    )


def void_drop(iteration: DesignIteration, trial: int, reason: str, author: Author, *, note: str = "") -> Drop:
    """Call the trial's open attempt void, before its time was seen; the next attempt is a new drop."""
    drop = open_attempt(iteration, trial, author)
    judge_drop(drop, False, reason, author, note=note)
    return drop


def judge_drop(drop: Drop, counts: bool, reason: str, author: Author, *, note: str = "") -> Judgement:
    """Say whether a drop counts and why; the newest judgement wins and the older ones stay."""
    return Judgement.objects.create(drop=drop, counts=counts, reason=reason, note=note, **author.fields())


def count_again(drop: Drop, note: str, author: Author) -> Judgement:
    """Let a drop count after all, as it did before: one that did not open still did not."""
    before = drop.judgements.filter(counts=True).order_by("-pk").first()
    reason = before.reason if before is not None else Judgement.Reason.TEACHER
    return judge_drop(drop, True, reason, author, note=note)


def correct_reading(drop: Drop, hundredths: int, note: str, author: Author) -> Reading:
    """Put another time on a drop; the readings it had are kept, set aside as corrected."""
    for reading in drop.readings.all():
        Judgement.objects.create(
            reading=reading, counts=False, reason=Judgement.Reason.CORRECTED, note=note, **author.fields()
        )
    return Reading.objects.create(
        class_challenge_id=drop.iteration.class_challenge_id,
        team_id=drop.iteration.team_id,
        drop=drop,
        hundredths=hundredths,
        source=Reading.Source.TEACHER,
        confirmed=True,
        **author.fields(),
    )


def save_breakage(record: RoundRecord, outcome: str, author: Author) -> None:
    """Note that it broke; with new sizes no drop so far counts and all is measured again."""
    save_note(record.iteration, Note.Prompt.BROKE, outcome, author)
    if outcome != "new":
        return
    standing: list[DropRecord] = [drop for drop in record.trials.values() if drop.counts]
    for drop in Drop.objects.filter(pk__in=[drop.row_id for drop in standing]):
        judge_drop(drop, False, Judgement.Reason.REBUILT, author)


def clear_team(
    record: RoundRecord,
    by: str,
    author: Author,
    *,
    figure: Decimal | None,
    figure_from: str,
    reason: str = "",
) -> Clearance:
    """Clear a team to build for the plan as it stands; the figure it was judged on is recorded."""
    return Clearance.objects.create(
        iteration=record.iteration,
        by=by,
        reason=reason,
        figure="" if figure is None else f"{figure:f}",
        figure_from=figure_from,
        limit=f"{record.values['limit']:f}" if "limit" in record.values else "",
        plan=plan_as_json(record.plan),
        **author.fields(),
    )


def reload_round(record: RoundRecord) -> RoundRecord:
    """Read a round again after rows were added in the same transaction."""
    iteration = record.iteration
    loaded = load_team(iteration.class_challenge, iteration.team)
    return loaded.teams[0].rounds[iteration.number]
