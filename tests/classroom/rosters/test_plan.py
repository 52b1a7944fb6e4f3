"""What a roster changes in a class: ids first, then names; nobody twice, nobody's work lost."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from classroom.roster import Name
from classroom.rosters.children import Child
from classroom.rosters.plan import Known, Plan, make_plan


def child(given_name: str, family: str = "", source_id: str = "", line: int = 0) -> Child:
    return Child(given_name, family[:1], family[:3], source_id, line)


def known(pk: int, given_name: str, initial: str = "", source_id: str = "", *, left: bool = False) -> Known:
    return Known(pk, Name(given_name, initial), source_id, left)


def said(plan: Plan) -> dict[str, list[str]]:
    return {
        "added": [child.name.shown for child in plan.added],
        "changed": [f"{match.known.name.shown} > {match.name.shown}" for match in plan.changed],
        "kept": [match.name.shown for match in plan.kept],
        "unlisted": [child.name.shown for child in plan.unlisted],
    }


def test_an_empty_class_takes_everybody() -> None:
    plan = make_plan([child("Ana", "Perez"), child("Bo")], [])
    assert said(plan) == {"added": ["Ana P.", "Bo"], "changed": [], "kept": [], "unlisted": []}
    assert not plan.mostly_unlisted


def test_a_child_is_found_by_its_id_whatever_the_name() -> None:
    plan = make_plan([child("Anna", "Lopez", "7")], [known(1, "Ana", "P", "7")])
    assert said(plan) == {"added": [], "changed": ["Ana P. > Anna L."], "kept": [], "unlisted": []}


def test_a_child_without_an_id_is_found_by_its_name_and_gets_the_id() -> None:
    plan = make_plan([child("Ana", "Perez", "7")], [known(1, "Ana", "P")])
    assert plan.changed[0].numbered
    assert not plan.changed[0].renamed
    assert plan.changed[0].source_id == "7"


def test_a_file_without_ids_leaves_the_ids_that_are_there() -> None:
    plan = make_plan([child("Ana", "Perez")], [known(1, "Ana", "P", "7")])
    assert plan.kept[0].source_id == "7"
    assert plan.is_empty


def test_names_never_join_two_different_ids() -> None:
    plan = make_plan([child("Ana", "Perez", "8")], [known(1, "Ana", "P", "7")])
    assert said(plan) == {"added": ["Ana P."], "changed": [], "kept": [], "unlisted": ["Ana P."]}


def test_case_and_accents_tell_nobody_apart_and_the_teachers_spelling_stays() -> None:
    plan = make_plan([child("ZOE", "angstrom")], [known(1, "Zoë", "Å")])
    assert said(plan)["kept"] == ["Zoë Å."]


def test_the_second_letter_that_a_teacher_gave_stays_and_finds_the_right_child() -> None:
    here = [known(1, "Ana", "Pa"), known(2, "Ana", "Pe")]
    plan = make_plan([child("Ana", "Perez"), child("Ana", "Paz")], here)
    assert [(match.known.pk, match.name.shown) for match in plan.kept] == [(2, "Ana Pe."), (1, "Ana Pa.")]
    assert plan.is_empty


def test_two_children_of_one_name_stay_two_however_often_they_come() -> None:
    listed = [child("Ana", "Perez"), child("Ana", "Paz")]
    assert len(make_plan(listed, []).added) == 2
    assert len(make_plan(listed, [known(1, "Ana", "P")]).added) == 1
    assert make_plan(listed, [known(1, "Ana", "P"), known(2, "Ana", "P")]).is_empty


def test_a_first_name_alone_is_completed_where_nobody_else_has_it() -> None:
    assert said(make_plan([child("Ana", "Perez")], [known(1, "Ana")]))["changed"] == ["Ana > Ana P."]
    assert said(make_plan([child("Ana")], [known(1, "Ana", "P")]))["kept"] == ["Ana P."]
    two = [known(1, "Ana"), known(2, "Ana")]
    assert said(make_plan([child("Ana", "Perez")], two))["added"] == ["Ana P."]


def test_who_is_no_longer_listed_is_named_and_who_left_before_is_not() -> None:
    here = [known(1, "Ana", "P"), known(2, "Bo", "K"), known(3, "Cem", "O", left=True)]
    assert said(make_plan([child("Ana", "Perez")], here))["unlisted"] == ["Bo K."]


def test_a_child_who_comes_back_is_the_same_child() -> None:
    for source_id in ("7", ""):
        plan = make_plan([child("Ana", "Perez", source_id)], [known(1, "Ana", "P", source_id, left=True)])
        assert plan.changed[0].comes_back
        assert not plan.added


def test_who_is_here_comes_before_who_left() -> None:
    here = [known(1, "Ana", "P", left=True), known(2, "Ana", "P")]
    plan = make_plan([child("Ana", "Perez")], here)
    assert [match.known.pk for match in plan.kept] == [2]


def test_a_file_of_another_class_is_noticed() -> None:
    here = [known(1, "Ana", "P"), known(2, "Bo", "K"), known(3, "Cem", "O")]
    assert make_plan([child("Ana", "Perez"), child("Eli"), child("Fay")], here).mostly_unlisted
    assert not make_plan([child("Ana", "Perez"), child("Bo", "Ku")], here).mostly_unlisted


NAMES = st.sampled_from(["Ana", "ana", "Bo", "Zoë", "Zoe"])
FAMILIES = st.sampled_from(["", "Perez", "Paz", "Ku", "Öz"])
CHILDREN = st.lists(st.builds(child, NAMES, FAMILIES), max_size=6)
IDS = st.lists(st.sampled_from(["", "1", "2", "3", "4", "5"]), min_size=6, max_size=6)


def _with_ids(children: list[Child], ids: list[str]) -> list[Child]:
    taken: set[str] = set()
    made = []
    for one, source_id in zip(children, ids, strict=False):
        made.append(Child(one.given_name, one.initial, one.start, "" if source_id in taken else source_id))
        taken.add(source_id)
    return made


def _after(plan: Plan, left: list[Known]) -> list[Known]:
    """Return the class as it is once the plan was carried out."""
    rows = [Known(match.known.pk, match.name, match.source_id) for match in [*plan.changed, *plan.kept]]
    here = {row.pk for row in rows}
    gone = [Known(one.pk, one.name, one.source_id, True) for one in plan.unlisted]
    gone += [one for one in left if one.left and one.pk not in here]
    newest = max((one.pk for one in [*rows, *gone]), default=0)
    new = [Known(newest + 1 + place, one.name, one.source_id) for place, one in enumerate(plan.added)]
    return [*rows, *gone, *new]


@given(CHILDREN, IDS, CHILDREN, IDS)
def test_every_child_has_one_place_and_the_second_time_nothing_changes(first, ids, second, more_ids) -> None:
    before = _after(make_plan(_with_ids(first, ids), []), [])
    file = _with_ids(second, more_ids)
    plan = make_plan(file, before)
    assert len(plan.added) + len(plan.changed) + len(plan.kept) == len(file)
    matched = [match.known.pk for match in [*plan.changed, *plan.kept]]
    assert len(matched) == len(set(matched))
    assert set(matched) | {one.pk for one in plan.unlisted} == {one.pk for one in before}
    after = _after(plan, before)
    ids_after = [one.source_id for one in after if one.source_id]
    assert len(ids_after) == len(set(ids_after))
    again = make_plan(file, after)
    assert not again.added
    assert not again.unlisted
