"""The Compare page: the class table in team order, a team's noticings, and the way into the next round."""

from __future__ import annotations

import re
import uuid
from typing import Any

import pytest
from django.test import Client

from classroom.models import Team
from design_challenges.models import ClassChallenge, Note
from tests import builders

pytestmark = pytest.mark.django_db

URL = "/team/1/compare/"
SENTENCE = "We notice that bigger canopies fell slower."


@pytest.fixture
def challenge() -> ClassChallenge:
    return builders.make_challenge(builders.make_class(teams=3))


@pytest.fixture
def teams(challenge: ClassChallenge) -> list[Team]:
    return list(challenge.classroom.teams.order_by("place"))


@pytest.fixture
def tablet(challenge: ClassChallenge, teams: list[Team]) -> Client:
    """The second team has all but its noticing; the first is faster, the third has not begun."""
    builders.play_round(challenge, teams[0], across=("12", "12"), hundredths=(312, 298, 305))
    to_compare(challenge, teams[1])
    return builders.team_client(teams[1])


def to_compare(challenge: ClassChallenge, team: Team, number: int = 1) -> None:
    builders.plan_round(challenge, team, number)
    builders.clear_round(challenge, team, number)
    builders.build_round(challenge, team, number)
    builders.drop_round(challenge, team, number)
    builders.work_results(challenge, team, number)


def send(tablet: Client, noticing: str, **more: Any) -> Any:
    return tablet.post(URL, {"entry_id": str(uuid.uuid4()), "noticing": noticing, **more})


def text(response: Any) -> str:
    words = re.sub(r"<[^>]+>", " ", response.content.decode())
    return " ".join(words.replace("\N{NO-BREAK SPACE}", " ").split())


def rows(response: Any) -> list[list[str]]:
    """The rows of the class table as text."""
    body = response.content.decode().split("<tbody>")[1].split("</tbody>")[0]
    return [
        [
            " ".join(re.sub(r"<[^>]+>", " ", cell).split())
            for cell in re.findall(r"<t[hd].*?</t[hd]>", row, re.DOTALL)
        ]
        for row in body.split("</tr>")
        if "<tr" in row
    ]


def test_the_table_is_in_team_order_and_shows_who_has_no_figure_yet(tablet: Client) -> None:
    # 3.1, 3.0, 3.1 → 3.1; 15 ÷ 3.1 = 4.8. The faster team stands first because it is the first team.
    assert rows(tablet.get(URL)) == [
        ["Gannet", "12", "13", "4.8"],
        ["Heron (you)", "14", "13", "3.7"],
        ["Plover", "not to see yet", "not to see yet", "not to see yet"],
    ]


def test_best_first_on_the_board_does_not_sort_the_tablets(tablet: Client, challenge: Any) -> None:
    challenge.board_order = "figure"
    challenge.save()
    assert [row[0] for row in rows(tablet.get(URL))] == ["Gannet", "Heron (you)", "Plover"]


def test_what_the_teacher_covers_is_not_in_the_page(tablet: Client, challenge: Any) -> None:
    challenge.board_hidden = ["canopy_diameter"]
    challenge.save()
    response = tablet.get(URL)
    assert [row[1] for row in rows(response)] == ["not to see yet"] * 3
    assert "covered" in text(response)


def test_a_team_that_the_teacher_covers_is_seen_by_itself_alone(
    tablet: Client, challenge: Any, teams: Any
) -> None:
    challenge.board_hidden = [f"team-{teams[0].pk}", f"team-{teams[1].pk}"]
    challenge.save()
    response = tablet.get(URL)
    assert rows(response)[0] == ["Gannet", *["not to see yet"] * 3]
    assert rows(response)[1] == ["Heron (you)", "14", "13", "3.7"]
    assert "covered" in text(response)


def test_a_figure_another_team_has_not_worked_out_is_not_given_away(challenge: Any, teams: Any) -> None:
    to_compare(challenge, teams[1])
    builders.plan_round(challenge, teams[2])
    builders.build_round(challenge, teams[2])
    builders.drop_round(challenge, teams[2])
    assert rows(builders.team_client(teams[1]).get(URL))[2][3] == "not to see yet"


def test_what_did_not_open_is_said(tablet: Client, challenge: Any, teams: Any) -> None:
    from design_challenges.models import Drop
    from design_challenges.services import saving

    drop = Drop.objects.get(iteration__team=teams[0], trial=2)
    builders.enter(challenge, lambda author: saving.judge_drop(drop, True, "not_open", author))
    assert rows(tablet.get(URL))[0][3] == "4.8 2 of 3 opened"


def test_a_noticing_is_saved_and_more_may_be_added(tablet: Client, challenge: Any, teams: Any) -> None:
    assert send(tablet, SENTENCE).status_code == 302
    assert SENTENCE in text(tablet.get(URL))
    send(tablet, "Long lines did not matter much.")
    words = text(tablet.get(URL))
    assert SENTENCE in words
    assert "Long lines did not matter much." in words
    assert len(builders.record_of(challenge, teams[1]).noticings) == 2


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ("", "Write one sentence"),
        ("   ", "Write one sentence"),
        ("ok", "a whole sentence"),
        ("1234567890", "a whole"),
        ("x" * 601, "very long"),
    ],
)
def test_a_noticing_that_is_none_is_asked_for_and_kept(tablet: Client, typed: str, message: str) -> None:
    response = send(tablet, typed)
    assert response.status_code == 422
    assert message in str(response.context["form"].errors["noticing"][0])
    assert response.context["form"]["noticing"].value() == typed
    assert 'href="#id_noticing"' in response.content.decode()


def test_markup_in_a_noticing_is_only_words(tablet: Client) -> None:
    send(tablet, "<script>alert('hello')</script> is slow")
    assert "<script>alert" not in tablet.get(URL).content.decode()


def test_a_noticing_sent_twice_counts_once(tablet: Client) -> None:
    fields = {"entry_id": str(uuid.uuid4()), "noticing": SENTENCE}
    tablet.post(URL, fields)
    tablet.post(URL, fields)
    send(tablet, SENTENCE)  # and so does the same sentence from a second tablet
    assert Note.objects.filter(prompt="noticing", text=SENTENCE).count() == 1


def test_a_sent_noticing_that_is_changed_and_sent_again_stays_in_its_box(tablet: Client) -> None:
    entry = str(uuid.uuid4())
    send(tablet, SENTENCE, entry_id=entry)
    response = send(tablet, f"{SENTENCE} Or so.", entry_id=entry)
    assert response.status_code == 422
    assert response.context["form"]["noticing"].value() == f"{SENTENCE} Or so."


def test_a_team_in_other_units_is_not_mixed_in(challenge: Any, teams: Any) -> None:
    builders.play_round(challenge, teams[0])
    challenge.settings_versions.create(version=2, unit_system="metric", drawing_required=False)
    to_compare(challenge, teams[1])
    table = rows(builders.team_client(teams[1]).get(URL))
    assert table[0][1:] == ["not to see yet"] * 3
    assert table[1][0] == "Heron (you)"


def test_the_next_round_waits_for_the_teacher(tablet: Client, challenge: Any) -> None:
    assert "Start round 2" not in text(tablet.get(URL))
    send(tablet, SENTENCE)
    words = text(tablet.get(URL))
    assert "Round 2 starts when your teacher opens it" in words
    challenge.gates.create(round=2, step="plan", open=True)
    response = tablet.get(URL)
    assert "Start round 2" in text(response)
    assert 'action="/team/2/start/"' in response.content.decode()


def test_the_next_round_waits_for_a_noticing(tablet: Client, challenge: Any) -> None:
    challenge.gates.create(round=2, step="plan", open=True)
    assert "Start round 2" not in text(tablet.get(URL))


def test_after_the_last_round_it_is_done(challenge: Any, teams: Any) -> None:
    challenge.rounds = 1
    challenge.save()
    builders.play_round(challenge, teams[0])
    assert "That was the last round" in text(builders.team_client(teams[0]).get(URL))


def test_round_2_stands_beside_round_1(challenge: Any, teams: Any) -> None:
    challenge.gates.create(round=2, step="compare", open=True)
    builders.play_round(challenge, teams[0])
    builders.play_round(challenge, teams[0], 2, hundredths=(512, 498, 505))
    response = builders.team_client(teams[0]).get("/team/2/compare/")
    assert rows(response)[0] == ["Gannet (you)", "14", "13", "3.7", "2.9"]


def test_another_class_is_never_in_the_table(tablet: Client) -> None:
    other = builders.make_challenge(builders.make_class(teams=1, name="Room 6"))
    builders.play_round(other, other.classroom.teams.get())
    assert len(rows(tablet.get(URL))) == 3


@pytest.mark.parametrize("count", [8, 40])
def test_it_takes_no_more_than_12_queries(count: int, django_assert_max_num_queries: Any) -> None:
    challenge = builders.make_challenge(builders.make_class(teams=count))
    for team in challenge.classroom.teams.all()[:8]:
        builders.play_round(challenge, team)
    tablet = builders.team_client(challenge.classroom.teams.first())
    with django_assert_max_num_queries(12):
        assert len(rows(tablet.get(URL))) == count
