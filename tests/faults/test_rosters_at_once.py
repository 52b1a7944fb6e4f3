"""A roster brought in by several people at the same moment adds every child once."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor

PEOPLE = 4
CHILDREN = 60


def test_a_roster_brought_in_four_times_at_once_adds_every_child_once(served, tmp_path) -> None:
    path = tmp_path / "list.csv"
    path.write_text("First name\n" + "".join(f"Kid{number}\n" for number in range(CHILDREN)))
    code = served.ask_python(
        "from classroom.models import Classroom\nprint(json.dumps(Classroom.objects.create(name='5B').code))"
    )

    def bring_in(_number: int) -> str:
        return served.manage("roster", str(path), "--class", code, "--apply")

    with ThreadPoolExecutor(PEOPLE) as people:
        said = "".join(people.map(bring_in, range(PEOPLE)))
    assert said.count(f"{CHILDREN} added, 0 changed") == 1
    assert said.count("\n0 added, 0 changed, 0 marked as left") == PEOPLE - 1
    names = served.run_python(
        "from classroom.models import Student\n"
        "print(json.dumps(list(Student.objects.values_list('given_name', flat=True))))"
    )
    assert sorted(json.loads(names.splitlines()[-1])) == sorted(f"Kid{number}" for number in range(CHILDREN))
