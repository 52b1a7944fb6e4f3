"""What a team reads about the soft landing while it plans: starters, reasons to tap, labels, cautions."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

from design_challenges.kinds.base import FamilyWords, PlanWords, ReadingWords

PLAN_WORDS = PlanWords(
    purpose_starters=[
        _("It must bring the load down …"),
        _("It must fall slowly, and we may not …"),
        _("We may only use …"),
    ],
    better_question=_("Which one should fall slower?"),
    reasons=[
        ("canopy", _("Its canopy is bigger")),
        ("lines", _("Its lines are longer")),
        ("both", _("Its canopy and lines fit together better")),
        ("lighter", _("It is lighter")),
    ],
    change_starters=[
        _("Because our first one …"),
        _("Because teams that fell slower had …"),
        _("Because there were points left, we can …"),
    ],
    two_starters=[
        _("The limit: when one grows, the other must …"),
        _("We want to try both because …"),
    ],
    drawing_labels=[_("canopy diameter"), _("line length"), _("the load")],
    cautions=[
        _("Your teacher’s rules come first. Ask before you start."),
        _("Scissors: sit down to cut. Point them away from everybody. Close them after."),
        _("String: never round a neck or a wrist. Pick up loose ends."),
        _("Plastic film: never over a face. Put scraps in the bin at once."),
    ],
)

READING_WORDS = ReadingWords(
    all_above=_("All {n} drops of build {second} took longer than all {m} of build {first}."),
    all_below=_(
        "All {n} drops of build {second} fell faster than all {m} of build {first}. What does that tell you?"
    ),
)

RADIUS_OR_DIAMETER = _("Did one of you stop in the middle? Go right across, from edge to edge.")
"""Asked where one child read about half of what the other did across the canopy."""

FAMILY_WORDS = FamilyWords(
    task=_(
        "Each team made a round canopy on lines that lets a small load down as slowly as it can. Film and "
        "line cost points, and there is a limit. The teams planned, built, measured and timed their first "
        "build, looked at everyone’s numbers, and then made a second one for a reason of their own."
    ),
    figure_lower=_("The fall speed says how far it falls in one second. Lower is better here."),
    figure_higher=_("The fall time says how long it takes to come down. Longer is better here."),
    questions=(
        _("What did you change for the second build, and how did you choose?"),
        _("How did you find out how fast it falls? Which numbers did you need?"),
        _("If there were a third build, what would you try, and how would you know whether it helped?"),
    ),
)
