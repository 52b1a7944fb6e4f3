"""Guessing codes and passwords: how long it takes, what is throttled, and that no child is locked out."""

from __future__ import annotations

from datetime import timedelta
from fractions import Fraction

import pytest
from django.test import Client, RequestFactory
from django.utils import timezone

from classroom import throttle
from classroom.codes import (
    ALPHABET,
    CLASS_CODE_LENGTH,
    OLD_TEAM_CODE_LENGTH,
    TEAM_CODE_LENGTH,
    in_groups,
    make_team_code,
)
from classroom.models import Classroom, Device, WrongTry
from classroom.server import THREADS
from design_challenges.models import Revision
from tests.builders import make_challenge, make_class, make_teacher, teacher_client, team_client
from tests.support.tablet import words

SCHOOL_TEAMS = 4_000
TEAMS_IN_THE_LARGEST_CLASS = 40
SCHOOL_DAYS, HOURS_A_DAY = 200, 8
ONE_IN_A_MILLION = Fraction(1, 1_000_000)


# --- the sum ------------------------------------------------------------------------------------------------


def test_codes_have_no_look_alikes() -> None:
    assert not set(ALPHABET) & set("0O1IL2Z5S8BV")
    assert len(set(ALPHABET)) == len(ALPHABET) == 24


SERVERS = 10
"""More processes than 4,000 teams need; each may look at as many codes at once as it has threads."""

A_SECOND = throttle.MOST_WRONG_A_SECOND + SERVERS * THREADS
GUESSES_A_YEAR = SCHOOL_DAYS * HOURS_A_DAY * 3600 * A_SECOND


def test_guessing_a_team_code_for_a_school_year_has_less_than_one_chance_in_a_million() -> None:
    """One class, its code read off the wall, joining left open in every hour of every school day.

    A guess names one class, so it can hit that class's teams only: at most 40 of the school's 4,000. The
    guesses of a year are bounded by the codes the installation looks at, from however many addresses: those
    of the pace, and what was under way in each thread of each server when the second's last one was counted.
    """
    codes = len(ALPHABET) ** TEAM_CODE_LENGTH
    in_the_largest_class = Fraction(GUESSES_A_YEAR * TEAMS_IN_THE_LARGEST_CLASS, codes)
    classes = SCHOOL_TEAMS // 8
    over_all_classes = Fraction(GUESSES_A_YEAR, codes) * SCHOOL_TEAMS / classes
    print(
        f"\n{codes:.3g} codes, {GUESSES_A_YEAR:.3g} guesses a year:"
        f" {float(in_the_largest_class):.2g} in a class of 40 teams,"
        f" {float(over_all_classes):.2g} spread over {classes} classes of 8"
    )
    assert in_the_largest_class < ONE_IN_A_MILLION
    assert over_all_classes < ONE_IN_A_MILLION


def test_a_shorter_code_would_not_do() -> None:
    codes = len(ALPHABET) ** (TEAM_CODE_LENGTH - 1)
    assert Fraction(GUESSES_A_YEAR * TEAMS_IN_THE_LARGEST_CLASS, codes) > ONE_IN_A_MILLION


def test_no_pace_would_make_the_short_codes_of_an_earlier_version_safe() -> None:
    """Five guesses in a whole school year would already be too many: so they let nobody in any more."""
    codes = len(ALPHABET) ** OLD_TEAM_CODE_LENGTH
    assert Fraction(5 * TEAMS_IN_THE_LARGEST_CLASS, codes) > ONE_IN_A_MILLION


def test_a_code_is_shown_in_groups_of_four_and_an_older_short_one_as_it_is() -> None:
    code = make_team_code()
    assert len(code) == TEAM_CODE_LENGTH
    assert in_groups(code) == f"{code[:4]} {code[4:8]} {code[8:]}"
    assert in_groups("ACDEFG") == "ACDEFG"
    assert CLASS_CODE_LENGTH == 5


# --- joining ------------------------------------------------------------------------------------------------


@pytest.fixture
def classroom(db: None) -> Classroom:
    return make_class(2)


def join(client: Client, class_code: str, team_code: str, address: str = "10.1.1.1") -> int:
    return client.post(
        "/join/", {"class_code": class_code, "team_code": team_code}, REMOTE_ADDR=address
    ).status_code


def scan() -> None:
    """Have tried codes of as many classes as one address may; the last one by the door itself."""
    request = RequestFactory().get("/join/", REMOTE_ADDR="10.1.1.1")
    now = timezone.now()
    WrongTry.objects.bulk_create(
        WrongTry(door="join", who=throttle.sender(request), what=str(number), last_at=now)
        for number in range(1, throttle.MOST_CLASSES)
    )
    assert join(Client(), "NOSUCH", "AAAA") == 422


def test_an_open_class_is_not_locked_by_hundreds_of_wrong_codes(classroom: Classroom) -> None:
    team, client = classroom.teams.first(), Client()
    for _try in range(throttle.MOST_CLASSES + 50):
        assert join(client, classroom.code, make_team_code()) == 422
        # A person is not as fast as this test.
        WrongTry.objects.filter(door="pace").delete()

    assert join(Client(), classroom.code, team.code) == 302
    classroom.refresh_from_db()
    assert classroom.wrong_codes == throttle.MOST_CLASSES + 50, "and the teacher sees how many"


def test_a_right_code_is_no_guess(classroom: Classroom) -> None:
    for _tablet in range(30):
        assert join(Client(), classroom.code, classroom.teams.first().code) == 302
    assert not WrongTry.objects.exists()


def test_guessing_over_many_classes_from_one_address_is_locked(classroom: Classroom) -> None:
    client = Client()
    for number in range(throttle.MOST_CLASSES):
        assert join(client, f"NO{number}", "AAAA") == 422
        WrongTry.objects.filter(door="pace").delete()

    answer = Client().post(
        "/join/",
        {"class_code": classroom.code, "team_code": classroom.teams.first().code},
        REMOTE_ADDR="10.1.1.1",
    )
    assert answer.status_code == 429
    assert "Ask your teacher to let you in" in words(answer)
    assert not Device.objects.exists()
    assert join(Client(), classroom.code, classroom.teams.first().code, "10.1.1.2") == 302, "no other one"


def test_a_link_is_no_way_round_the_lock(classroom: Classroom) -> None:
    scan()
    link = f"/join/{classroom.code}/{classroom.teams.first().code}/"

    assert Client().get(link, REMOTE_ADDR="10.1.1.1").status_code == 429
    assert Client().post(link, REMOTE_ADDR="10.1.1.1").status_code == 429
    assert Client().get(link, REMOTE_ADDR="10.1.1.2").status_code == 200


def test_links_that_are_opened_count_as_guesses(classroom: Classroom) -> None:
    for number in range(3):
        Client().get(f"/join/NO{number}/AAAA/", REMOTE_ADDR="10.1.1.1")
    assert WrongTry.objects.filter(door="join").count() == 3


@pytest.mark.parametrize("page", ["dashboard/", ""])
def test_the_teacher_unlocks_with_one_tap(classroom: Classroom, page: str) -> None:
    challenge = make_challenge(classroom)
    scan()
    team = classroom.teams.first()
    teacher = teacher_client(classroom)
    place = f"/classes/{classroom.code}/{page}"
    assert "Let my tablets in" not in teacher.get(place).content.decode()
    before = Revision.objects.get(class_challenge=challenge).number

    assert join(Client(), classroom.code, team.code) == 429
    assert Revision.objects.get(class_challenge=challenge).number == before + 1, "its live page is told"
    assert "Let my tablets in" in teacher.get(place).content.decode()
    teacher.post(f"/classes/{classroom.code}/joining/", {"open": "yes"})
    assert "Let my tablets in" not in teacher.get(place).content.decode()
    assert join(Client(), classroom.code, team.code) == 302


def test_a_lock_ends_by_itself_and_its_traces_go(classroom: Classroom) -> None:
    scan()
    WrongTry.objects.update(last_at=timezone.now() - throttle.WINDOW)
    assert join(Client(), classroom.code, classroom.teams.first().code) == 302

    WrongTry.objects.update(last_at=timezone.now() - throttle.KEPT - timedelta(seconds=1))
    join(Client(), "WRONG", "AAAA")
    assert WrongTry.objects.count() == 2, "of the latest try alone"


def test_no_more_codes_are_looked_at_in_a_second_than_the_sum_counts_on(
    classroom: Classroom, monkeypatch: pytest.MonkeyPatch
) -> None:
    second = timezone.now().replace(microsecond=0)
    monkeypatch.setattr(throttle.timezone, "now", lambda: second)
    team = classroom.teams.first()
    answers = [
        join(Client(), classroom.code, make_team_code(), f"10.1.1.{number % 8}")
        for number in range(throttle.MOST_WRONG_A_SECOND + 20)
    ]

    assert answers == [422] * throttle.MOST_WRONG_A_SECOND + [429] * 20
    assert join(Client(), classroom.code, team.code, "10.9.9.9") == 429, "a right one is not looked at either"
    assert Client().get(f"/join/{classroom.code}/{team.code}/").status_code == 429, "nor by its link"
    assert not Device.objects.exists()
    classroom.refresh_from_db()
    assert classroom.wrong_codes == throttle.MOST_WRONG_A_SECOND

    monkeypatch.setattr(throttle.timezone, "now", lambda: second + timedelta(seconds=1))
    assert join(Client(), classroom.code, team.code, "10.9.9.9") == 302, "the next second is free"


def test_an_address_that_floods_leaves_the_others_room(
    classroom: Classroom, monkeypatch: pytest.MonkeyPatch
) -> None:
    second = timezone.now().replace(microsecond=0)
    monkeypatch.setattr(throttle.timezone, "now", lambda: second)
    answers = [join(Client(), classroom.code, make_team_code(), "10.1.1.1") for _code in range(40)]

    assert answers.count(422) == throttle.MOST_WRONG_FROM_ONE_ADDRESS
    assert join(Client(), classroom.code, classroom.teams.first().code, "10.1.1.2") == 302


def test_servers_whose_clocks_differ_do_not_begin_each_other_s_count_anew(
    classroom: Classroom, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two machines, one second apart, in turn: together they look at what their two seconds allow."""
    monkeypatch.setattr(throttle, "MOST_WRONG_A_SECOND", 12)
    first = timezone.now().replace(microsecond=0)
    seconds = [first, first + timedelta(seconds=1)]
    answers = []
    for number in range(2 * 12 + 8):
        monkeypatch.setattr(throttle.timezone, "now", lambda: seconds[number % 2])  # noqa: B023
        answers.append(join(Client(), classroom.code, make_team_code(), f"10.1.1.{number // 2 % 8}"))
    assert answers.count(422) == 2 * 12


# --- an earlier version's codes -----------------------------------------------------------------------------


def test_an_earlier_version_s_short_code_lets_nobody_in_and_is_told_so(classroom: Classroom) -> None:
    team = classroom.teams.first()
    classroom.teams.filter(pk=team.pk).update(code="ACDEFG")
    right = Client().post("/join/", {"class_code": classroom.code, "team_code": "ACDEFG"})
    wrong = Client().post("/join/", {"class_code": classroom.code, "team_code": "GFEDCA"})

    assert right.status_code == wrong.status_code == 422
    assert "ask your teacher for a new one" in words(right)
    assert words(right).replace("ACDEFG", "") == words(wrong).replace("GFEDCA", ""), (
        "right or wrong, the same"
    )
    assert not Device.objects.exists()


@pytest.mark.parametrize("page", ["", "teams/"])
def test_the_teacher_gives_new_codes_for_short_ones_with_one_tap(classroom: Classroom, page: str) -> None:
    make_challenge(classroom)
    old, new = classroom.teams.all()
    old.code = "ACDEFG"
    old.save()
    inside = team_client(old)
    teacher = teacher_client(classroom)
    place = f"/classes/{classroom.code}/{page}"
    assert "1 team has a short code of an earlier version." in words(teacher.get(place))
    assert "Give new codes first." in words(teacher.get(f"/classes/{classroom.code}/paper/team-cards/"))

    teacher.post(f"/classes/{classroom.code}/teams/codes/")
    teacher.post(f"/classes/{classroom.code}/teams/codes/")
    kept, old.code = new.code, classroom.teams.get(pk=old.pk).code
    assert len(old.code) == TEAM_CODE_LENGTH
    assert classroom.teams.get(pk=new.pk).code == kept, "a long one stays"
    assert "earlier version" not in words(teacher.get(place))
    assert join(Client(), classroom.code, old.code) == 302
    assert inside.get("/team/", follow=True).request["PATH_INFO"] != "/join/", "who is in stays in"


def test_nothing_readable_of_who_tried_is_kept(classroom: Classroom) -> None:
    join(Client(), "SECRET", "AAAA", "10.9.8.7")
    rows = str(list(WrongTry.objects.values()))
    assert "10.9.8.7" not in rows
    assert "SECRET" not in rows


# --- signing in ---------------------------------------------------------------------------------------------


def sign_in(client: Client, password: str, address: str = "10.1.1.1") -> int:
    sent = {"username": "teacher", "password": password}
    return client.post("/sign-in/", sent, REMOTE_ADDR=address).status_code


def test_passwords_are_not_guessed_without_end(db: None) -> None:
    make_teacher("teacher", "a long pass phrase")
    for _try in range(throttle.MOST_PASSWORDS):
        assert sign_in(Client(), "wrong") == 422

    assert sign_in(Client(), "a long pass phrase") == 429
    assert sign_in(Client(), "a long pass phrase", "10.1.1.2") == 302, "from elsewhere it goes on"
    WrongTry.objects.update(last_at=timezone.now() - throttle.SIGN_IN_WINDOW)
    assert sign_in(Client(), "a long pass phrase") == 302


def test_children_at_the_teacher_s_address_do_not_lock_the_teacher_out(db: None) -> None:
    make_teacher("teacher", "a long pass phrase")
    own = Client()
    assert sign_in(own, "a long pass phrase") == 302
    own.post("/sign-out/")
    for _try in range(throttle.MOST_PASSWORDS + 5):
        sign_in(Client(), "wrong")

    assert sign_in(own, "wrong") == 422
    assert sign_in(own, "a long pass phrase") == 302


def test_signing_in_gives_the_browser_another_session(db: None) -> None:
    make_teacher("teacher", "a long pass phrase")
    client = Client()
    client.post("/classes/new/", {"name": "typed before signing in"})  # held in a session
    before = client.cookies["sb_session"].value
    assert sign_in(client, "a long pass phrase") == 302
    after = client.cookies["sb_session"].value
    assert before != after
    assert Client(headers={"cookie": f"sb_session={before}"}).get("/classes/").status_code == 302
