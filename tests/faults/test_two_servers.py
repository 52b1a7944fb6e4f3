"""Two servers behind one address: what one takes in the other shows, and one may stop while lessons go on."""

from __future__ import annotations

import os
import re

import pytest

from tests.support.postgres import VARIABLE

pytestmark = pytest.mark.skipif(
    VARIABLE not in os.environ, reason="needs PostgreSQL: tests/support/postgres.py"
)

SETUP = """
from classroom.models import Classroom
from tests import builders
rehearsed = builders.make_class(0, name="Rehearsal")
builders.make_challenge(rehearsed)
print(json.dumps(rehearsed.code))
"""


def test_a_class_plays_both_rounds_while_each_server_in_turn_is_started_anew(new_server):
    import threading

    pair = new_server()
    code = pair.ask_python(SETUP)
    over = threading.Event()

    def upgrade() -> None:
        for server in pair.servers:
            if over.wait(4):
                return
            server.stop()
            server.start()

    upgrading = threading.Thread(target=upgrade)
    upgrading.start()
    said = pair.manage(
        "rehearse", code, "--url", pair.base_url, "--pace", "200", "--teams", "4", "--open-rounds"
    )
    over.set()
    upgrading.join()
    assert "4 teams came to the end" in said
    saved = int(re.search(r"(\d+) entries saved", said)[1])
    counted = pair.ask_python(
        "from design_challenges.models import Submission\n"
        f"saved = Submission.objects.filter(class_challenge__classroom__code={code!r}, outcome='saved')\n"
        # Beginning a round is a tap, which a rehearsal does not count as an entry.
        "print(saved.exclude(body__has_key='start').count())"
    )
    assert counted == saved


def test_both_servers_take_part(new_server):
    pair = new_server()
    pair.servers[0].kill()
    assert pair.is_healthy()
    pair.servers[0].start()
    pair._dealer.ports[0] = pair.servers[0].port
    pair.servers[1].kill()
    assert pair.is_healthy()
