"""A roster file on the pages and on the command line: steps, refusals, once only, queries."""

from __future__ import annotations

import io
import os
import random
import string
import subprocess
import sys

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import CommandError, call_command
from django.utils import timezone

from classroom.models import Classroom, RosterSource, Student, Team, TeamMember
from classroom.rosters import carried
from classroom.rosters.carried import Chosen, pack, unpack
from classroom.rosters.children import Child
from classroom.rosters.faults import RosterError
from tests.builders import make_challenge, make_class, make_teacher, teacher_client
from tests.support.growth import MANY, hold_in_proportion
from tests.support.oneroster import large_school, small_school

pytestmark = pytest.mark.django_db

LIST = "First name,Surname,ID\nAna,Pérez,7\nBo,Ku,8\n"


@pytest.fixture
def room() -> Classroom:
    return make_class(teams=0, name="5B")


def page(classroom: Classroom, rest: str = "") -> str:
    return f"/classes/{classroom.code}/students/roster/{rest}"


def upload(client, classroom: Classroom, data: bytes | str, name: str = "list.csv"):
    data = data.encode() if isinstance(data, str) else data
    return client.post(page(classroom), {"file": SimpleUploadedFile(name, data)})


def carried_of(response) -> str:
    return response.context["carried"]


def matched(client, classroom: Classroom, data: bytes | str, **columns: str):
    """Upload a table and go on with its columns as they were guessed, or as they are given."""
    answer = upload(client, classroom, data)
    assert answer.status_code == 200, answer.context["form"].errors
    form = answer.context["form"]
    values = {name: columns.get(name, form.initial.get(name, "")) for name in form.fields}
    return client.post(page(classroom, "columns/"), {**values, "carried": carried_of(answer)})


def press(client, classroom: Classroom, preview, **changes):
    """Press the button of a preview as it stands."""
    data = {
        "carried": carried_of(preview),
        "change": list(preview.context["change"]),
        "leave": list(preview.context["leave"]),
        **changes,
    }
    return client.post(page(classroom, "add/"), data)


def bring_in(client, classroom: Classroom, data: bytes | str):
    return press(client, classroom, matched(client, classroom, data))


def names(classroom: Classroom) -> list[str]:
    return [str(student) for student in classroom.students.filter(left_at=None)]


# --- the steps ---------------------------------------------------------------------------------


def test_the_students_page_leads_to_it(room) -> None:
    client = teacher_client(room)
    assert page(room) in client.get(f"/classes/{room.code}/students/").text
    Student.objects.create(classroom=room, given_name="Ana")
    assert page(room) in client.get(f"/classes/{room.code}/students/").text


def test_a_list_is_shown_before_anything_is_kept(room) -> None:
    client = teacher_client(room)
    preview = matched(client, room, LIST)
    assert [child.name.shown for child in preview.context["plan"].added] == ["Ana P.", "Bo K."]
    assert "Ana P." in preview.text
    assert names(room) == []
    answer = press(client, room, preview)
    assert answer.url == f"/classes/{room.code}/students/"
    assert names(room) == ["Ana P.", "Bo K."]
    assert "2 children added" in client.get(answer.url).text


def test_only_the_first_name_an_initial_and_the_id_are_kept(room) -> None:
    client = teacher_client(room)
    data = "First name,Surname,ID,Mail\nAna,Wolkenstein,7,ana@school.invalid\n"
    answer = upload(client, room, data)
    assert "school.invalid" not in answer.text
    preview = matched(client, room, data)
    assert "Wolkenstein" not in preview.text
    press(client, room, preview)
    (row,) = Student.objects.filter(classroom=room).values()
    assert (row["given_name"], row["initial"], row["source_id"]) == ("Ana", "W", "7")
    assert "Wolkenstein" not in repr(row)


def test_nothing_of_a_file_is_kept_between_the_steps(room, tmp_path, monkeypatch) -> None:
    client = teacher_client(room)
    session = dict(client.session)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    # Large enough that the framework takes it to a temporary place first.
    large = LIST + "\n" * 3_000_000
    matched(client, room, large)
    assert dict(client.session) == session
    assert list(tmp_path.iterdir()) == []


def test_the_same_file_again_and_again_changes_nothing(room) -> None:
    client = teacher_client(room)
    for _time in range(3):
        bring_in(client, room, LIST)
    assert names(room) == ["Ana P.", "Bo K."]
    preview = matched(client, room, LIST)
    assert preview.context["plan"].is_empty
    assert "nothing to do" in preview.text


def test_a_button_that_is_pressed_twice_counts_once(room) -> None:
    client = teacher_client(room)
    preview = matched(client, room, LIST)
    press(client, room, preview)
    press(client, room, preview)
    assert names(room) == ["Ana P.", "Bo K."]


def test_names_that_were_pasted_before_get_their_ids(room) -> None:
    Student.objects.create(classroom=room, given_name="Ana", initial="P")
    Student.objects.create(classroom=room, given_name="Bo")
    bring_in(teacher_client(room), room, LIST)
    rows = list(room.students.values_list("given_name", "initial", "source_id"))
    assert rows == [("Ana", "P", "7"), ("Bo", "K", "8")]


def test_a_child_who_left_keeps_the_work_and_comes_back_as_the_same(room) -> None:
    client = teacher_client(room)
    bring_in(client, room, LIST)
    bo = room.students.get(given_name="Bo")
    team = Team.objects.create(classroom=room, name="Terns")
    TeamMember.objects.create(student=bo, team=team)
    bring_in(client, room, "First name,Surname,ID\nAna,Pérez,7\nCem,Öz,9\n")
    bo.refresh_from_db()
    assert bo.left_at is not None
    assert bo.team_places.get().team == team
    assert names(room) == ["Ana P.", "Cem Ö."]
    bring_in(client, room, "First name,Surname,ID\nAna,Pérez,7\nBo,Ku,8\nCem,Öz,9\n")
    bo.refresh_from_db()
    assert bo.left_at is None
    assert room.students.count() == 3


def test_what_is_not_ticked_stays_as_it_is(room) -> None:
    client = teacher_client(room)
    bring_in(client, room, LIST)
    preview = matched(client, room, "First name,Surname,ID\nAnna,Pérez,7\n")
    press(client, room, preview, change=[], leave=[])
    assert names(room) == ["Ana P.", "Bo K."]


def test_most_of_a_class_is_not_sent_away_unasked(room) -> None:
    client = teacher_client(room)
    for given_name in ("Ana", "Bo", "Cem", "Dia"):
        Student.objects.create(classroom=room, given_name=given_name)
    preview = matched(client, room, "First name\nAna\nZita\n")
    assert preview.context["leave"] == set()
    assert "Is it the right one?" in preview.text
    press(client, room, preview)
    assert len(names(room)) == 5


def test_every_live_page_hears_of_it(room) -> None:
    challenge = make_challenge(room)
    before = challenge.revision.number
    client = teacher_client(room)
    bring_in(client, room, LIST)
    challenge.revision.refresh_from_db()
    assert challenge.revision.number == before + 1
    bring_in(client, room, LIST)
    challenge.revision.refresh_from_db()
    assert challenge.revision.number == before + 1


# --- columns and classes -----------------------------------------------------------------------


def test_columns_can_be_matched_by_hand(room) -> None:
    client = teacher_client(room)
    preview = matched(
        client,
        room,
        "A thing,Another,Third\nPérez,Ana,7\n",
        given="1",
        family="0",
        source_id="2",
        headed="on",
    )
    assert [child.name.shown for child in preview.context["plan"].added] == ["Ana P."]
    assert preview.context["plan"].added[0].source_id == "7"


@pytest.mark.parametrize(
    ("columns", "said"),
    [
        ({"given": "", "full": ""}, "Choose the column of first names"),
        ({"given": "0", "family": "0"}, "taken for"),
        ({"given": "0", "full": "1", "family": ""}, "not both"),
        ({"given": "99"}, "one of the file’s columns"),
    ],
)
def test_columns_that_make_no_sense_are_asked_about_and_nothing_is_lost(room, columns, said) -> None:
    answer = matched(teacher_client(room), room, LIST, **columns)
    assert answer.status_code == 422
    assert said in answer.text
    assert carried_of(answer)


def test_a_file_of_many_groups_asks_which_one(room) -> None:
    client = teacher_client(room)
    data = "First name,Surname,Class\nAna,Perez,5B\nBo,Ku,5A\nCem,Oz,5B\n"
    which = matched(client, room, data)
    assert which.context["form"].initial["which"] == "5B"
    fields = dict(which.context["columns"])
    empty = client.post(page(room, "class/"), {**fields, "carried": carried_of(which), "which": ""})
    assert empty.status_code == 422
    preview = client.post(page(room, "class/"), {**fields, "carried": carried_of(which), "which": "5B"})
    assert [child.name.shown for child in preview.context["plan"].added] == ["Ana P.", "Cem O."]
    everybody = client.post(page(room, "class/"), {**fields, "carried": carried_of(which), "which": "*"})
    assert len(everybody.context["plan"].added) == 3


def test_a_package_asks_which_class_once_and_knows_it_from_then_on(room) -> None:
    client = teacher_client(room)
    which = upload(client, room, small_school().zipped(), "school.zip")
    assert which.context["form"].initial["which"] == "class-5b"
    preview = client.post(page(room, "class/"), {"carried": carried_of(which), "which": "class-5b"})
    press(client, room, preview)
    assert names(room) == ["Ana P.", "Bo B.", "Cem Ö."]
    source = RosterSource.objects.get(classroom=room)
    assert (source.source_id, source.school_source_id, source.session_source_id) == (
        "class-5b",
        "org-1",
        "term-1",
    )
    again = upload(client, room, small_school("1.1").zipped(), "school.zip")
    assert again.context["plan"].is_empty
    assert "nothing to do" in again.text


def test_bad_rows_stand_in_the_preview_with_line_and_reason(room) -> None:
    client = teacher_client(room)
    preview = matched(client, room, LIST + ",Nobody,9\n")
    assert "There is no first name." in preview.text
    press(client, room, preview)
    assert names(room) == ["Ana P.", "Bo K."]


# --- refusals ----------------------------------------------------------------------------------


@pytest.mark.parametrize("rest", ["", "columns/", "class/", "add/"])
def test_another_teacher_finds_nothing(room, rest) -> None:
    stranger = teacher_client(make_class(teams=0, teacher=make_teacher("stranger")))
    assert stranger.get(page(room, rest)).status_code == 404
    assert stranger.post(page(room, rest), {}).status_code == 404


@pytest.mark.parametrize("rest", ["", "columns/", "class/", "add/"])
def test_an_archived_class_is_not_changed(room, rest) -> None:
    client = teacher_client(room)
    preview = matched(client, room, LIST)
    room.archived_at = timezone.now()
    room.save()
    answer = client.post(page(room, rest), {"carried": carried_of(preview)})
    assert answer.status_code == 422
    assert room.students.count() == 0


@pytest.mark.parametrize(
    ("name", "data", "said"),
    [
        ("photo.jpg", b"\xff\xd8\xff\xe0 a picture", "JPEG"),
        ("list.pdf", b"%PDF-1.7", "PDF"),
        ("list.xls", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 99, "xls"),
        ("list.csv", b"", "empty"),
        ("list.zip", b"PK\x03\x04", "damaged"),
        ("huge.csv", b"x" * 11_000_000, "larger than 10 MB"),
        ("monster.csv", b"x" * 30_000_000, "larger than 10 MB"),
    ],
)
def test_a_file_that_is_no_roster_is_refused_beside_its_field(room, name, data, said) -> None:
    answer = upload(teacher_client(room), room, data, name)
    assert answer.status_code == 422
    assert said in str(answer.context["form"].errors["file"])
    assert "data-error-summary" in answer.text


def test_no_file_at_all_is_asked_for(room) -> None:
    answer = teacher_client(room).post(page(room), {})
    assert answer.status_code == 422
    assert "Choose the file" in answer.text


@pytest.mark.parametrize("rest", ["columns/", "class/", "add/"])
def test_what_was_not_read_by_us_is_not_believed(room, rest) -> None:
    client = teacher_client(room)
    other = make_class(teams=0, name="Other")
    foreign = pack(Chosen([Child("Eve")]), other.pk)
    for text in ("", "nonsense", foreign, foreign[:-1] + "x"):
        answer = client.post(page(room, rest), {"carried": text})
        assert answer.status_code == 422
        assert "Choose the file again" in answer.text
    assert room.students.count() == 0


def test_a_page_that_stood_open_too_long_is_not_believed(room, monkeypatch) -> None:
    packed = pack(Chosen([Child("Ana")]), room.pk)
    monkeypatch.setattr(carried, "LONGEST_S", -1)
    with pytest.raises(RosterError, match="too long"):
        unpack(packed, room.pk)


def test_the_later_steps_begin_at_the_first(room) -> None:
    client = teacher_client(room)
    for rest in ("columns/", "class/", "add/"):
        assert client.get(page(room, rest)).url == page(room)


def test_a_step_with_another_steps_load_begins_again(room) -> None:
    client = teacher_client(room)
    preview = matched(client, room, LIST)
    for rest in ("columns/", "class/"):
        assert client.post(page(room, rest), {"carried": carried_of(preview)}).url == page(room)
    table = upload(client, room, LIST)
    assert client.post(page(room, "add/"), {"carried": carried_of(table)}).url == page(room)


def test_a_preview_survives_signing_in_again(room) -> None:
    client = teacher_client(room)
    preview = matched(client, room, LIST)
    teacher = room.memberships.first().user
    client.logout()
    sent = {"carried": carried_of(preview)}
    assert "/sign-in/" in client.post(page(room, "add/"), sent).url
    client.force_login(teacher)
    back = client.get(page(room, "add/"))
    assert [child.name.shown for child in back.context["plan"].added] == ["Ana P.", "Bo K."]
    assert room.students.count() == 0


def test_a_file_that_is_too_much_for_a_page_is_refused_in_words(room) -> None:
    rng = random.Random(6)
    rows = ["".join(rng.choices(string.ascii_letters, k=60)) + f",Kid{number}" for number in range(40_000)]
    answer = upload(teacher_client(room), room, "Remark,First name\n" + "\n".join(rows))
    assert answer.status_code == 422
    assert "too much for one page" in answer.text


# --- size and queries --------------------------------------------------------------------------


def test_five_thousand_children_are_previewed_in_ten_times_the_time_of_five_hundred(room) -> None:
    client = teacher_client(room)

    def a_list(rows: int) -> str:
        return "First name,Surname,ID\n" + "\n".join(f"Given{one},Family{one},id{one}" for one in range(rows))

    preview = hold_in_proportion("a list is previewed", a_list, lambda data: matched(client, room, data))
    assert len(preview.context["plan"].added) == MANY
    press(client, room, preview)
    assert room.students.count() == MANY


def test_a_package_of_five_thousand_is_previewed_in_ten_times_the_time_of_five_hundred(room) -> None:
    client = teacher_client(room)

    def preview_of(data: bytes):
        which = upload(client, room, data, "school.zip")
        return client.post(page(room, "class/"), {"carried": carried_of(which), "which": "c-7"})

    preview = hold_in_proportion(
        "a package is previewed", lambda children: large_school(children).zipped(), preview_of
    )
    assert len(preview.context["plan"].added) == 25


@pytest.mark.parametrize("children", [3, 40])
def test_the_pages_need_few_queries_whatever_the_class(children, django_assert_max_num_queries) -> None:
    classroom = make_class(teams=8, children=5, name="5B")
    make_challenge(classroom)
    client = teacher_client(classroom)
    rows = [f"Given{number},Family{number},id{number}" for number in range(children)]
    data = "First name,Surname,ID\n" + "\n".join(rows)
    with django_assert_max_num_queries(20):
        upload(client, classroom, data)
    preview = matched(client, classroom, data)
    with django_assert_max_num_queries(20):
        matched(client, classroom, data)
    with django_assert_max_num_queries(20):
        press(client, classroom, preview)


# --- the command -------------------------------------------------------------------------------


def run(*arguments: str) -> tuple[str, str]:
    out, err = io.StringIO(), io.StringIO()
    call_command("roster", *arguments, stdout=out, stderr=err)
    return out.getvalue(), err.getvalue()


@pytest.fixture
def list_file(tmp_path) -> str:
    path = tmp_path / "list.csv"
    path.write_text(LIST + ",Nobody,9\n", encoding="utf-16")
    return str(path)


def test_the_command_says_what_is_in_a_file(list_file) -> None:
    out, err = run(list_file)
    assert "UTF-16, separated by commas" in out
    assert "2 children" in out
    assert "line 4: There is no first name." in err


def test_the_command_shows_the_plan_and_changes_nothing_unasked(room, list_file) -> None:
    out, _err = run(list_file, "--class", room.code)
    assert "+ Ana P." in out
    assert "Nothing was changed" in out
    assert room.students.count() == 0


def test_the_command_brings_the_class_up_to_date_once(room, list_file) -> None:
    Student.objects.create(classroom=room, given_name="Zita")
    out, _err = run(list_file, "--class", room.code, "--apply", "--keep-unlisted")
    assert "2 added, 0 changed, 0 marked as left." in out
    out, _err = run(list_file, "--class", room.code, "--apply")
    assert "0 added, 0 changed, 1 marked as left." in out
    assert names(room) == ["Ana P.", "Bo K."]


def test_the_command_takes_a_package_by_title_and_by_id(room, tmp_path) -> None:
    path = tmp_path / "school.zip"
    path.write_bytes(small_school().zipped())
    out, _err = run(str(path))
    assert "class-5b  5B: 3 students" in out
    # The class here is called as the one in the file.
    assert "3 to add" in run(str(path), "--class", room.code)[0]
    assert "1 added" in run(str(path), "--class", room.code, "--from", "class-5a", "--apply")[0]
    assert "0 to add, 0 to change, 1 kept" in run(str(path), "--class", room.code)[0]


def test_the_command_matches_columns_by_their_headings(room, tmp_path) -> None:
    path = tmp_path / "odd.csv"
    path.write_text("Thing,Other,Which\nPérez,Ana,5A\nKu,Bo,5B\n", encoding="utf-8")
    options = ["--first", "other", "--family", "Thing", "--groups", "which", "--from", "5B"]
    assert "+ Bo K." in run(str(path), "--class", room.code, *options)[0]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--apply"], "Say which class"),
        (["--class", "NONE-0000"], "No class here has the code"),
        (["--class", "CODE", "--first", "Nickname"], "no column Nickname"),
        (["--class", "CODE", "--from", "5C"], "no 5C in the file"),
    ],
)
def test_the_command_refuses_with_what_to_do(room, list_file, arguments, said) -> None:
    arguments = [room.code if argument == "CODE" else argument for argument in arguments]
    with pytest.raises(CommandError, match=said):
        run(list_file, *arguments)


def test_the_command_refuses_a_missing_file_and_an_archived_class(room, list_file) -> None:
    with pytest.raises(CommandError, match="cannot be read"):
        run("/nowhere/list.csv")
    room.archived_at = timezone.now()
    room.save()
    with pytest.raises(CommandError, match="archived"):
        run(list_file, "--class", room.code)


def test_the_command_reads_a_file_before_anything_is_set_up(list_file, tmp_path) -> None:
    environment = {**os.environ, "SECOND_BUILD_DATA": str(tmp_path / "new")}
    environment["DJANGO_SETTINGS_MODULE"] = "classroom.settings"
    command = [sys.executable, "-m", "django", "roster", list_file]
    said = subprocess.run(command, env=environment, capture_output=True, text=True, check=True)
    assert "2 children" in said.stdout
    refused = subprocess.run(
        [*command, "--class", "AAAA"], env=environment, capture_output=True, text=True, check=False
    )
    assert refused.returncode == 1
    assert "There are no classes yet" in refused.stderr
    assert "Traceback" not in refused.stderr
