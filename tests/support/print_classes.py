"""Classes for looking at what is printed: a plain one, the fullest there can be, and one without anything."""

from __future__ import annotations

from io import BytesIO
from typing import Any

from django.db import transaction
from PIL import Image, ImageDraw

from classroom.models import Classroom, Student, Team
from design_challenges.models import ClassChallenge
from design_challenges.services import photos, saving
from tests import builders
from tests.support import site

LONGEST_CHILD = "Maximiliana-Theophania-Bartholomea-Louis"
CLASS_NAME = "A class whose name is as long as a class may ever be called"
# The longest that fits, one that reads from right to left, and one that is full of markup.
TEAM_NAMES = [
    "Wanderwandervogelschwarm",
    "\u05d4\u05e6\u05d5\u05d5\u05ea \u05e9\u05dc\u05e0\u05d5",
    "Wow, <b>bold</b> & loud!",
]
WORDS = "Wide canopies catch more air, so ours came down slowly, but two lines crossed and we lost a drop. "
LONGEST_NOTE = (WORDS * 7)[:600].strip()
TIMES = [312, 298, 305, 371, 322, 318, 309, 304, 333, 341]


@transaction.atomic
def build() -> dict[str, Any]:
    """Build the classes and return what their addresses need."""
    teacher = builders.make_teacher("ms-paper", "a long pass phrase")
    plain = site.make_class(4, teacher, site.played_team(teacher), name="Room 5", free=0)
    full = fullest_class(teacher)
    empty = builders.make_class(0, teacher=teacher, name="Empty")
    builders.make_challenge(empty)
    child = plain.students.all()[0]
    return {
        "session": site.sign_in(teacher),
        "plain": plain.code,
        "full": full.code,
        "empty": empty.code,
        "team": full.teams.all()[0].pk,
        "child": child.pk,
        "child_name": str(child),
        "plain_teams": [team.name for team in plain.teams.all()],
        "plain_children": [str(student) for student in plain.students.all()],
    }


def fullest_class(teacher: Any) -> Classroom:
    """Make a class in which everything is as long and as much as it may be."""
    full = builders.make_class(3, teacher=teacher, name=CLASS_NAME, children=6)
    challenge = builders.make_challenge(
        full,
        unit_system="metric",
        trials_per_round=10,
        drawing_required=True,
        values={"line_count": "12", "area_method": "table", "sums_asked": "every", "limit": "6000"},
    )
    challenge.rounds = 3
    challenge.save()
    for team, name in zip(full.teams.all(), TEAM_NAMES, strict=True):
        team.name = name
        team.save()
        _play(challenge, team)
    Student.objects.filter(classroom=full).update(given_name=LONGEST_CHILD)
    return full


def _play(challenge: ClassChallenge, team: Team) -> None:
    for number in (1, 2):
        builders.play_round(
            challenge,
            team,
            number,
            radius="17.5",
            line="32.5",
            across=["35", "34.5"],
            lines=["32.5"] * 12,
            hundredths=TIMES,
            noticing=LONGEST_NOTE,
        )
    first, second = team.iterations.order_by("number")
    for iteration, prompt in ((first, "purpose"), (first, "why"), (second, "change_why")):
        builders.enter(
            challenge, lambda author, i=iteration, p=prompt: saving.save_note(i, p, LONGEST_NOTE, author)
        )
    picture = Image.new("RGB", (1200, 1600), "white")
    ImageDraw.Draw(picture).ellipse((100, 100, 1100, 900), outline="black", width=9)
    file = BytesIO()
    picture.save(file, format="PNG")
    file.seek(0)
    drawn = photos.read_picture(file, "photo")
    photo_id = photos.write_picture(drawn)
    builders.enter(challenge, lambda author: photos.add_photo(first, photo_id, drawn, author))
