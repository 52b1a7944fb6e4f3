"""Several tablets of one team that save at the same moment, on a real database file."""

from __future__ import annotations

from typing import Any

PROGRAM = """
import re, threading
from django.db import connections
from tests.builders import make_challenge, make_class, record_of, team_client
from design_challenges.models import HelpCall, Measurement, Submission
from design_challenges.services.saving import start_round, save_note
from tests.builders import enter

challenge = make_challenge(make_class(1))
team = challenge.classroom.teams.get()
iteration = start_round(challenge, team, 1)
enter(challenge, lambda author: save_note(iteration, "purpose", "Slowly.", author))
path = "/team/1/plan/idea-a/"
tablets = [team_client(team) for _ in range(6)]
hidden = re.compile(r'<input type="hidden" name="(?!csrf)([^"]+)" value="([^"]*)"')
forms = []
for tablet in tablets:
    page = tablet.get(path).content.decode()
    forms.append(dict(hidden.findall(page.split("<main", 1)[1])))
together = threading.Barrier(len(tablets))
statuses = [0] * len(tablets)

def send(number):
    together.wait()
    statuses[number] = tablets[number].post(
        path, {**forms[number], "canopy_radius": str(number + 5), "line_length": "10"}
    ).status_code
    tablets[number].post("/team/help/", {"asked": "yes"})
    connections.close_all()

threads = [threading.Thread(target=send, args=(number,)) for number in range(len(tablets))]
for thread in threads: thread.start()
for thread in threads: thread.join()
print(json.dumps({
    "statuses": sorted(statuses),
    "radii": Measurement.objects.filter(quantity="canopy_radius").count(),
    "outcomes": sorted(Submission.objects.filter(body__page=path).values_list("outcome", flat=True)),
    "typed": sorted(row.body["canopy_radius"] for row in Submission.objects.filter(body__page=path)),
    "calls": HelpCall.objects.count(),
}))
"""


def test_of_tablets_that_save_a_size_at_once_one_is_first_and_the_others_are_told(served: Any) -> None:
    found = served.ask_python(PROGRAM)

    assert found["statuses"] == [302] + [422] * 5
    assert found["radii"] == 1
    assert found["outcomes"] == ["conflict"] * 5 + ["saved"]
    assert found["typed"] == sorted(str(number + 5) for number in range(6)), "every entry is kept"
    assert found["calls"] == 1, "one call for help waits, however many asked"
