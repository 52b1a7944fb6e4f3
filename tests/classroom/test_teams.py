"""Teams: dealing, seating by hand, names, order, codes, merging; what came before stays as it was."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from classroom import teaming
from classroom.models import Student, Team, TeamMember
from classroom.team_names import TEAM_NAMES, new_names
from design_challenges.services.records import load_class, load_team
from tests.builders import make_challenge, make_class, plan_round, play_round, teacher_client, team_client

# --- dealing -----------------------------------------------------------------------------------


@given(st.integers(0, 120), st.integers(2, 5))
def test_sizes_differ_by_one_at_most_and_nobody_is_left_or_alone(children, size) -> None:
    sizes = teaming.team_sizes(children, size)
    assert sum(sizes) == children
    if children:
        assert max(sizes) - min(sizes) <= 1
    if children >= 2:
        assert min(sizes) >= 2
    if children != 3 or size != 2:
        assert max(sizes, default=0) <= max(size, 3 if size == 2 else size)


@pytest.mark.parametrize(
    ("children", "size", "sizes"),
    [
        (24, 4, [4] * 6),
        (25, 4, [4, 4, 4, 4, 3, 3, 3]),
        (26, 3, [3] * 8 + [2]),
        (5, 4, [3, 2]),
        (3, 2, [3]),
        (1, 3, [1]),
        (0, 3, []),
        (11, 5, [4, 4, 3]),
    ],
)
def test_sizes_of_usual_classes(children, size, sizes) -> None:
    assert teaming.team_sizes(children, size) == sizes


@pytest.mark.parametrize("size", [0, 1, 6])
def test_other_sizes_are_refused(size) -> None:
    with pytest.raises(ValueError):
        teaming.team_sizes(20, size)


@given(st.lists(st.integers(), unique=True, max_size=40), st.integers(2, 5), st.integers(0, 2**31))
def test_every_child_is_dealt_once_and_the_same_seed_deals_the_same(children, size, seed) -> None:
    hands = teaming.shuffle(children, size, seed)
    assert sorted(child for hand in hands for child in hand) == sorted(children)
    assert teaming.shuffle(children, size, seed) == hands


def test_a_shuffle_is_fair() -> None:
    # 2,000 deals of 8 into two teams of 4: each child is with child 0 in three of seven.
    together = [0] * 8
    for seed in range(2000):
        hand = next(hand for hand in teaming.shuffle(range(8), 4, seed) if 0 in hand)
        for child in hand:
            together[child] += 1
    assert all(abs(count - 2000 * 3 / 7) < 150 for count in together[1:])


def test_new_names_differ_from_those_taken_and_from_each_other() -> None:
    names = new_names(100, ["puffins", "Otters"])
    assert len({name.casefold() for name in names}) == 100
    assert not {"puffins", "otters"} & {name.casefold() for name in names}
    assert all(len(name) <= 24 for name in names)
    assert len(set(TEAM_NAMES)) == len(TEAM_NAMES)


# --- the pages ---------------------------------------------------------------------------------

pytestmark = pytest.mark.django_db


def _page(classroom, rest: str = "") -> str:
    return f"/classes/{classroom.code}/teams/{rest}"


def _who(students) -> str:
    return ".".join(str(student.pk) for student in students.order_by("pk"))


def _deal(client, classroom, who: str = "everyone", size: int = 4, seed: int = 5, students=None):
    students = classroom.students.filter(left_at__isnull=True) if students is None else students
    return client.post(
        _page(classroom, "shuffle/"),
        {"size": size, "who": who, "seed": seed, "use": "1", "children": _who(students)},
    )


def _seats(classroom) -> dict[str, list[str]]:
    seats = teaming.seating(classroom)
    return {team.name: [str(child) for child in members] for team, members, _begun in seats.rows()}


def _class_of(children: int):
    classroom = make_class(0)
    for number in range(children):
        Student.objects.create(classroom=classroom, given_name=f"Child {number:02d}")
    return classroom


def test_a_shuffle_is_shown_first_and_kept_as_it_was_shown() -> None:
    classroom = _class_of(11)
    client = teacher_client(classroom)
    answer = client.post(_page(classroom, "shuffle/"), {"size": "4", "who": "everyone"})
    shown = {name: [str(child) for child in hand] for name, hand in answer.context["hands"]}
    assert not Team.objects.exists()
    _deal(client, classroom, seed=answer.context["seed"])
    assert {name: sorted(hand) for name, hand in shown.items()} == _seats(classroom)
    assert [len(hand) for hand in shown.values()] == [4, 4, 3]


def test_shuffling_again_deals_other_teams() -> None:
    classroom = _class_of(24)
    client = teacher_client(classroom)
    first = client.post(_page(classroom, "shuffle/"), {"size": "4", "who": "everyone", "seed": "1"})
    again = client.post(
        _page(classroom, "shuffle/"), {"size": "4", "who": "everyone", "seed": "1", "again": "1"}
    )
    assert first.context["hands"] != again.context["hands"]


def test_a_deal_that_no_longer_fits_the_class_is_shown_again_instead_of_kept() -> None:
    classroom = _class_of(8)
    client = teacher_client(classroom)
    known = _who(classroom.students)
    Student.objects.create(classroom=classroom, given_name="Late")
    answer = client.post(
        _page(classroom, "shuffle/"),
        {"size": "4", "who": "everyone", "seed": "5", "use": "1", "children": known},
    )
    assert "class list changed" in answer.content.decode()
    assert not Team.objects.exists()


def test_a_deal_sent_twice_makes_its_teams_once() -> None:
    classroom = _class_of(8)
    client = teacher_client(classroom)
    _deal(client, classroom)
    seats = _seats(classroom)
    _deal(client, classroom)
    assert _seats(classroom) == seats
    assert Team.objects.count() == 2


def test_dealing_everyone_afresh_keeps_names_and_codes_of_printed_cards() -> None:
    classroom = _class_of(12)
    client = teacher_client(classroom)
    _deal(client, classroom, size=3)
    codes = dict(classroom.teams.values_list("name", "code"))
    _deal(client, classroom, size=4, seed=9)
    kept = classroom.teams.filter(retired_at__isnull=True)
    assert kept.count() == 3
    assert all(codes[team.name] == team.code for team in kept)
    assert sorted(len(children) for children in _seats(classroom).values()) == [4, 4, 4]


def test_only_children_without_a_team_are_dealt_once_a_round_has_begun() -> None:
    classroom = make_class(2)
    challenge = make_challenge(classroom)
    plan_round(challenge, classroom.teams.first())
    late = [Student.objects.create(classroom=classroom, given_name=f"Late {n}") for n in range(2)]
    client = teacher_client(classroom)
    before = _seats(classroom)
    refused = client.post(_page(classroom, "shuffle/"), {"size": "2", "who": "everyone"})
    assert refused.status_code == 422
    students = classroom.students.filter(pk__in=[child.pk for child in late])
    for _turn in range(2):
        _deal(client, classroom, who="left_over", size=2, students=students)
    after = _seats(classroom)
    assert {name: after[name] for name in before} == before
    assert sorted(after[(set(after) - set(before)).pop()]) == ["Late 0", "Late 1"]
    assert len(after) == len(before) + 1


@pytest.mark.parametrize("data", [{"size": "1", "who": "everyone"}, {"size": "6", "who": "everyone"}, {}])
def test_a_shuffle_without_a_usable_size_is_explained(data) -> None:
    classroom = _class_of(4)
    answer = teacher_client(classroom).post(_page(classroom, "shuffle/"), data)
    assert answer.status_code == 422
    assert "Choose" in answer.content.decode()


def test_children_are_seated_by_hand() -> None:
    classroom = _class_of(3)
    client = teacher_client(classroom)
    client.post(_page(classroom, "add/"), {"count": "2"})
    first, second = classroom.teams.order_by("place")
    ana, bo, cem = classroom.students.order_by("pk")
    client.post(
        _page(classroom, "seat/"),
        {f"student_{ana.pk}": first.pk, f"student_{bo.pk}": second.pk, f"student_{cem.pk}": ""},
    )
    seats = teaming.seating(classroom)
    assert seats.team_of == {ana.pk: first.pk, bo.pk: second.pk, cem.pk: None}
    assert not TeamMember.objects.filter(student=cem).exists()


def test_empty_teams_sent_twice_are_added_once() -> None:
    classroom = make_class(0)
    client = teacher_client(classroom)
    for _turn in range(2):
        client.post(_page(classroom, "add/"), {"count": "3", "teams": "0"})
    assert Team.objects.count() == 3


@pytest.mark.parametrize(("count", "message"), [("", "how many"), ("0", "1 or more"), ("13", "12 or less")])
def test_a_number_of_teams_that_cannot_be_is_explained(count, message) -> None:
    classroom = make_class(0)
    answer = teacher_client(classroom).post(_page(classroom, "add/"), {"count": count})
    assert answer.status_code == 422
    assert message in answer.content.decode()
    assert not Team.objects.exists()


def test_moving_a_child_from_round_2_on_leaves_round_1_as_it_was() -> None:
    classroom = make_class(2)
    challenge = make_challenge(classroom)
    first, second = classroom.teams.order_by("place")
    for team in (first, second):
        play_round(challenge, team)
        plan_round(challenge, team, 2)
    mover = TeamMember.objects.filter(team=first).first().student
    client = teacher_client(classroom)
    fields = {f"student_{pk}": team or "" for pk, team in teaming.seating(classroom).team_of.items()}
    client.post(_page(classroom, "seat/"), {**fields, f"student_{mover.pk}": second.pk, "from_round": "2"})
    klass = load_class(challenge)
    one, two = klass.team(first.pk), klass.team(second.pk)
    assert mover in one.members(1)
    assert mover not in two.members(1)
    assert mover not in one.members(2)
    assert mover in two.members(2)
    assert TeamMember.objects.count() == 7


def test_moving_needs_a_round_once_one_has_begun() -> None:
    classroom = make_class(2)
    challenge = make_challenge(classroom)
    first, second = classroom.teams.order_by("place")
    plan_round(challenge, first)
    mover = TeamMember.objects.filter(team=first).first().student
    client = teacher_client(classroom)
    for bad in ({}, {"from_round": "3"}, {"from_round": "0"}):
        answer = client.post(_page(classroom, "seat/"), {f"student_{mover.pk}": second.pk, **bad})
        assert answer.status_code == 422
    assert teaming.seating(classroom).team_of[mover.pk] == first.pk


def test_a_child_cannot_be_seated_in_another_class_or_a_team_that_is_gone() -> None:
    mine, other = make_class(1), make_class(1)
    gone = Team.objects.create(classroom=mine, name="Gone", retired_at="2026-01-01T00:00Z")
    child = mine.students.first()
    client = teacher_client(mine)
    for team in (other.teams.get(), gone):
        answer = client.post(_page(mine, "seat/"), {f"student_{child.pk}": team.pk})
        assert answer.status_code == 422
    assert teaming.seating(mine).team_of[child.pk] == mine.teams.get(name="Gannet").pk


def test_children_who_are_not_in_the_form_stay_where_they_are() -> None:
    classroom = make_class(2)
    before = _seats(classroom)
    teacher_client(classroom).post(_page(classroom, "seat/"), {})
    after = _seats(classroom)
    assert after == before


def test_merging_keeps_the_rounds_of_both_and_signs_the_merged_teams_tablets_out() -> None:
    classroom = make_class(2)
    challenge = make_challenge(classroom)
    gone, into = classroom.teams.order_by("place")
    for team in (gone, into):
        play_round(challenge, team)
    tablet = team_client(gone)
    members = {member.student_id for member in TeamMember.objects.filter(team=gone)}
    client = teacher_client(classroom)
    page = _page(classroom, f"{gone.pk}/merge/")
    for _turn in range(2):
        client.post(page, {"into": into.pk, "from_round": "2"})
    gone.refresh_from_db()
    assert gone.merged_into == into
    assert tablet.get("/team/").headers["Location"].startswith("/join/")
    old = load_team(challenge, gone).teams[0]
    assert {student.pk for student in old.members(1)} == members
    assert old.rounds[1].figure is not None
    new = load_class(challenge).team(into.pk)
    assert members.isdisjoint({student.pk for student in new.members(1)})
    assert members < {student.pk for student in new.members(2)}
    assert "went into" in client.get(_page(classroom)).content.decode()


def test_a_team_is_not_merged_into_itself_or_into_another_class() -> None:
    mine, other = make_class(2), make_class(1)
    team = mine.teams.first()
    client = teacher_client(mine)
    for into in (team.pk, other.teams.get().pk, ""):
        assert client.post(_page(mine, f"{team.pk}/merge/"), {"into": into}).status_code == 422
    assert not Team.objects.filter(retired_at__isnull=False).exists()


def test_a_team_that_has_begun_nothing_is_taken_out_and_one_that_has_is_not() -> None:
    classroom = make_class(2)
    challenge = make_challenge(classroom)
    begun, idle = classroom.teams.order_by("place")
    plan_round(challenge, begun)
    client = teacher_client(classroom)
    for team in (begun, idle):
        client.post(_page(classroom, f"{team.pk}/close/"))
    assert [team.name for team in classroom.teams.filter(retired_at__isnull=True)] == [begun.name]
    assert len(teaming.seating(classroom).without) == 3


def test_taking_a_team_out_does_not_rewrite_where_its_children_were_before() -> None:
    classroom = make_class(2)
    challenge = make_challenge(classroom)
    first, second = classroom.teams.order_by("place")
    play_round(challenge, first)
    child = TeamMember.objects.filter(team=first).first().student
    teaming.seat(classroom, {child.pk: second.pk}, 2)
    teaming.close_team(second)
    record = load_class(challenge).team(first.pk)
    assert child in record.members(1)
    assert child not in record.members(2)


def test_a_team_is_renamed_but_not_like_another() -> None:
    classroom = make_class(2)
    challenge = make_challenge(classroom)
    team = classroom.teams.get(name="Gannet")
    client = teacher_client(classroom)
    page = _page(classroom, f"{team.pk}/rename/")
    for name in ("heron", "", "x" * 25):
        answer = client.post(page, {"name": name})
        assert answer.status_code == 422
        assert f'value="{name}"' in answer.content.decode() or not name
    client.post(page, {"name": "=Sky Divers"})
    team.refresh_from_db()
    assert team.name == "=Sky Divers"
    challenge.revision.refresh_from_db()
    assert challenge.revision.number == 1


def test_teams_are_put_in_another_order() -> None:
    classroom = make_class(3)
    client = teacher_client(classroom)
    last = classroom.teams.order_by("place").last()
    for to, place in (("up", 1), ("up", 0), ("up", 0), ("down", 1)):
        client.post(_page(classroom, f"{last.pk}/order/"), {"to": to})
        assert list(classroom.teams.order_by("place")).index(last) == place
    places = list(classroom.teams.order_by("place").values_list("place", flat=True))
    assert all(low < high for low, high in pairwise(places))


def test_a_new_code_signs_the_teams_tablets_out_and_nobody_elses() -> None:
    classroom = make_class(2)
    make_challenge(classroom)
    first, second = classroom.teams.order_by("place")
    tablet, other = team_client(first), team_client(second)
    old = first.code
    client = teacher_client(classroom)
    page = _page(classroom, f"{first.pk}/code/")
    assert client.get(page).status_code == 200
    codes = []
    for _turn in range(2):
        client.post(page, {"was": old})
        first.refresh_from_db()
        codes.append(first.code)
    assert codes[0] == codes[1] != old
    assert tablet.get("/team/").headers["Location"].startswith("/join/")
    assert not other.get("/team/").headers.get("Location", "").startswith("/join/")


@pytest.mark.parametrize("rest", ["rename/", "code/", "merge/", "order/", "close/"])
def test_a_team_of_another_class_cannot_be_reached(rest) -> None:
    mine, other = make_class(1), make_class(1)
    team = other.teams.get()
    data = {"name": "Taken", "into": mine.teams.get().pk, "to": "up"}
    assert teacher_client(mine).post(_page(mine, f"{team.pk}/{rest}"), data).status_code == 404
    team.refresh_from_db()
    assert (team.name, team.retired_at) == ("Gannet", None)
