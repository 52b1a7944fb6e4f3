"""What is erased is in no file of the database any more: neither in it, nor in its journal."""

from __future__ import annotations

import time

LEAVE = """
from tests import builders
from classroom.models import Student
from design_challenges.models import Note
classroom = builders.make_class(2)
challenge = builders.make_challenge(classroom)
team = classroom.teams.first()
builders.play_round(challenge, team)
child = team.members.first().student
child.given_name = "Xanthippelina"
child.save()
first = team.iterations.get()
for turn in range(200):
    Note.objects.create(iteration=first, prompt="noticing", text=f"Xanthippelina noticed it {turn} times.")
print(json.dumps(child.pk))
"""
ERASE = """
from classroom.models import Student
from design_challenges.services.erasing.children import erase_child, mentions_of
child = Student.objects.get(pk=%d)
found = mentions_of(child)
erase_child(child, {one.key for one in found})
print(json.dumps(len(found)))
"""
ERASE_CLASS = """
from classroom.models import Classroom
from design_challenges.services.erasing.classes import erase_class
erase_class(Classroom.objects.get())
print(json.dumps(Classroom.objects.count()))
"""


def places(site, text):
    """Return the database's files in which a text stands."""
    files = site.database.parent.glob(f"{site.database.name}*")
    return [file.name for file in files if text.encode() in file.read_bytes()]


def test_an_erased_name_stands_in_no_file_of_the_database(new_server):
    site = new_server()
    pk = site.ask_python(LEAVE)
    assert places(site, "Xanthippelina")
    began = time.monotonic()
    assert site.ask_python(ERASE % pk) == 200
    print(f"\n200 texts and a child erased in {time.monotonic() - began:.1f} s")
    assert places(site, "Xanthippelina") == []
    assert places(site, "noticed it 199 times")  # the team's words stay
    assert site.ask_python(ERASE_CLASS) == 0
    assert places(site, "noticed it 199 times") == []
    assert site.is_healthy()
