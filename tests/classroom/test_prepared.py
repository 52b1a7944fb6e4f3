"""Prepared queries: the same rows as the query itself, put together once, with parameters in their places."""

from __future__ import annotations

import pytest
from django.contrib.auth import get_user_model
from django.db import connection
from django.db.models import F, OuterRef, Q, Subquery
from django.test.utils import CaptureQueriesContext

from classroom.models import Classroom, Team
from classroom.prepared import Prepared, PreparedUpdate, columns_of, instance_of
from tests.builders import make_class

pytestmark = pytest.mark.django_db


def test_it_finds_what_the_query_itself_finds_with_other_parameters_each_time():
    first, second = make_class(2), make_class(3)
    prepared = Prepared(
        lambda classroom, name: (
            Team.objects.filter(Q(classroom=classroom), ~Q(name=name))
            .order_by("pk")
            .values_list("pk", "name")
        ),
        int,
        str,
    )
    for classroom, name in ((first, "Gannet"), (second, "Heron"), (second, "nobody’s")):
        plain = Team.objects.filter(classroom=classroom).exclude(name=name).order_by("pk")
        assert [tuple(row) for row in prepared.rows(classroom.pk, name)] == list(
            plain.values_list("pk", "name")
        )


def test_a_parameter_may_stand_in_several_places_and_in_an_inner_query():
    classroom = make_class(2)
    newest = Team.objects.filter(classroom=OuterRef("pk")).order_by("-pk")
    prepared = Prepared(
        lambda pk: (
            Classroom.objects.filter(pk=pk)
            .annotate(newest=Subquery(newest.filter(classroom=pk).values("name")[:1]))
            .values_list("name", "newest", "made_at")
        ),
        int,
    )
    row = prepared.row(classroom.pk)
    assert row is not None
    assert (row.name, row.newest) == ("Room 5", "Heron")
    assert row.made_at == classroom.made_at, "dates come as the field gives them, with their time zone"
    assert prepared.row(classroom.pk + 1) is None


def test_it_is_put_together_once():
    made = []

    def make(classroom):
        made.append(classroom)
        return Team.objects.filter(classroom=classroom).values_list("pk")

    prepared = Prepared(make, int)
    with CaptureQueriesContext(connection) as queries:
        for _ in range(3):
            prepared.rows(1)
    assert len(made) == 1
    assert len(queries) == 3


def test_an_instance_from_its_columns_is_the_one_that_is_stored():
    classroom = make_class(1)
    prepared = Prepared(
        lambda pk: Team.objects.filter(classroom=pk).values_list(*columns_of(Team), "classroom__name"), int
    )
    row = prepared.row(classroom.pk)
    assert row is not None
    team = instance_of(Team, row[:-1])
    assert team == classroom.teams.get()
    assert team.code == classroom.teams.get().code
    assert not team._state.adding
    team.name = "Curlew"
    team.save(update_fields=["name"])
    assert classroom.teams.get().name == "Curlew"


def test_a_query_that_leaves_a_parameter_out_or_names_no_columns_is_refused():
    with pytest.raises(ValueError, match="does not use its parameters"):
        Prepared(lambda _pk: Team.objects.values_list("pk"), int).rows(1)
    with pytest.raises(ValueError, match="names its columns"):
        Prepared(lambda pk: Team.objects.filter(pk=pk), int).rows(1)


def test_a_prepared_change_touches_the_rows_it_names_and_says_how_many():
    first, second = make_class(2), make_class(3)
    change = PreparedUpdate(
        lambda pk, name: (
            Classroom.objects.filter(pk=pk),
            {"name": name, "wrong_codes": F("wrong_codes") + 10},
        ),
        int,
        str,
    )
    assert change.run(first.pk, "Curlew’s") == 1
    assert change.run(first.pk, "Dunlin") == 1
    assert change.run(0, "nobody’s") == 0
    first.refresh_from_db()
    assert (first.name, first.wrong_codes) == ("Dunlin", 20)
    untouched = Classroom.objects.get(pk=second.pk)
    assert (untouched.name, untouched.wrong_codes) == (second.name, 0)


def test_a_parameter_may_be_an_accounts_id_which_is_narrower_than_others():
    user = get_user_model().objects.create_user("ada")
    prepared = Prepared(lambda pk: get_user_model().objects.filter(pk=pk).values_list("username"), int)
    assert [row.username for row in prepared.rows(user.pk)] == ["ada"]
