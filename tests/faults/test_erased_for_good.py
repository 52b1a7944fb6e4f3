"""What is erased is in no file of the database any more: neither in it, nor in its journal.

PostgreSQL keeps the bytes of freed rows: there no row of any table holds the name any more at once, and no
table's file after a full vacuum.
"""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest

from tests.support import postgres
from tests.support.postgres import VARIABLE

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
    """Return the database's files in which a text stands; on PostgreSQL the files of its tables."""
    if VARIABLE in os.environ:
        return [file.name for file in table_files(site) if text.encode() in file.read_bytes()]
    files = site.database.parent.glob(f"{site.database.name}*")
    return [file.name for file in files if text.encode() in file.read_bytes()]


def table_files(site):
    """Return the files of every table and index, with all that was saved really in them."""
    import psycopg

    postgres.administer("CHECKPOINT")
    with psycopg.connect(site.environ["DATABASE_URL"]) as connection:
        asked = connection.execute(
            "SELECT current_setting('data_directory'), oid FROM pg_database"
            " WHERE datname = current_database()"
        )
        data, oid = asked.fetchone()
    return [file for file in Path(data, "base", str(oid)).iterdir() if file.is_file()]


def rows_with(site, text):
    """Return every table with rows in which a text stands, in whatever column."""
    import psycopg

    with psycopg.connect(site.environ["DATABASE_URL"]) as connection:
        listed = connection.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public'")
        names = [name for (name,) in listed.fetchall()]
        counted = {
            name: connection.execute(
                f'SELECT count(*) FROM "{name}" AS one WHERE one::text LIKE %s',  # noqa: S608
                [f"%{text}%"],
            ).fetchone()[0]
            for name in names
        }
    return {name: count for name, count in counted.items() if count}


@pytest.mark.skipif(VARIABLE in os.environ, reason="PostgreSQL has its own test below")
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


@pytest.mark.skipif(VARIABLE not in os.environ, reason="needs PostgreSQL: tests/support/postgres.py")
def test_on_postgresql_an_erased_name_stands_in_no_row_and_after_a_full_vacuum_in_no_file(new_server):
    import psycopg

    site = new_server()
    pk = site.ask_python(LEAVE)
    assert rows_with(site, "Xanthippelina") == {"classroom_student": 1, "design_challenges_note": 200}
    assert places(site, "Xanthippelina")
    assert site.ask_python(ERASE % pk) == 200
    assert rows_with(site, "Xanthippelina") == {}
    assert rows_with(site, "noticed it 199 times")  # the team's words stay
    with psycopg.connect(site.environ["DATABASE_URL"], autocommit=True) as connection:
        connection.execute("VACUUM FULL")
    assert places(site, "Xanthippelina") == []
    assert places(site, "noticed it 199 times")
    assert site.ask_python(ERASE_CLASS) == 0
    assert rows_with(site, "noticed it") == {}
    assert site.is_healthy()
