"""Children's names: what is read from a pasted list, what is kept of it, doubles, and those who left."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from classroom.models import Student, TeamMember
from classroom.roster import Name, doubles, read_name, read_names, tidy, tidy_initial
from tests.builders import make_challenge, make_class, teacher_client
from tests.support.tablet import words

# --- reading -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "given_name", "initial"),
    [
        ("Ana", "Ana", ""),
        ("Ana P.", "Ana", "P"),
        ("Ana P", "Ana", "P"),
        ("Ana p.", "Ana", "P"),
        ("Ana Pérez", "Ana", "P"),
        ("Ana María Pérez", "Ana", "P"),
        ("Mary Ann W.", "Mary Ann", "W"),
        ("Ana Pe.", "Ana", "Pe"),
        ("Pérez, Ana", "Ana", "P"),
        ("van der Berg, Lena", "Lena", "B"),
        ("Lena van der Berg", "Lena", "B"),
        ("Ana\tPérez", "Ana", "P"),
        ("7\tAna\tPérez", "Ana", "P"),
        ("Ana;Pérez", "Ana", "P"),
        ("3. Ana Pérez", "Ana", "P"),
        ("12) Ana Pérez", "Ana", "P"),
        ("12 Ana Pérez", "Ana", "P"),
        ("- Ana Pérez", "Ana", "P"),
        ("• Ana", "Ana", ""),
        ("Ana Pérez ana.perez@school.invalid", "Ana", "P"),
        ("  Ana   Pérez  ", "Ana", "P"),
        ("Ana,", "Ana", ""),
        ("Jean-Luc d’Arc", "Jean-Luc", "D"),
    ],
)
def test_a_line_is_read_as_a_first_name_and_an_initial(line, given_name, initial) -> None:
    assert read_name(line) == Name(given_name, initial)


HARD = [
    ("=SUM(A1)", "=SUM(A1)", ""),
    ("=Ana Pérez", "=Ana", "P"),
    ("+Ben", "+Ben", ""),
    ("-Cleo", "-Cleo", ""),
    ("@Dan", "@Dan", ""),
    ("O’Brien", "O’Brien", ""),
    ("Sean O'Brien", "Sean", "O"),
    ("Zoë Ångström", "Zoë", "Å"),
    ("Đặng Thị", "Đặng", "T"),
    ("İpek Öztürk", "İpek", "Ö"),
    ("Łucja Żak", "Łucja", "Ż"),
    ("Søren Ørsted", "Søren", "Ø"),
    ("Þóra Æsa", "Þóra", "Æ"),
    ("ß Straße", "ß", "S"),
    ("Mei ßander", "Mei", "SS"),
    ("Nǃxau ǂToma", "Nǃxau", "ǂ"),
    ("Ka‘imi Kealoha", "Ka‘imi", "K"),
    ("Anne-Sophie de la Tour", "Anne-Sophie", "T"),
    ("X Æ", "X", "Æ"),
    ("王小明", "王小明", ""),
    ("김 민준", "김", "민"),
    ("さくら 田中", "さくら", "田"),
    ("Иван Ёлкин", "Иван", "Ё"),
    ("Ελένη Ωμέγα", "Ελένη", "Ω"),
    ("محمد علي", "محمد", "ع"),
    ("نور\u200cالدین رضا", "نور\u200cالدین", "ر"),
    ("שרה לוי", "שרה", "ל"),
    ("अनिल शर्मा", "अनिल", "श"),
    ("சுதா ரமேஷ்", "சுதா", "ர"),
    ("ใบเตย สุขใจ", "ใบเตย", "สุ"),
    ("null", "null", ""),
    ("None", "None", ""),
    ("Robert'); DROP TABLE students;--", "Robert')", "S"),
    ("<b>Bo</b>", "<b>Bo</b>", ""),
    ("{{ Ana }}", "{{", "A"),
    ("Ana\u200bPérez", "AnaPérez", ""),
    ("\u202eAna P.", "Ana", "P"),
    ("A\u0301na P.", "Ána", "P"),
    ("Ana\u00a0Pérez", "Ana", "P"),
    ("True", "True", ""),
]


@pytest.mark.parametrize(("line", "given_name", "initial"), HARD)
def test_a_hard_name_is_read(line, given_name, initial) -> None:
    name = read_name(line)
    assert name == Name(given_name, initial)


@pytest.mark.parametrize("line", ["", "   ", "\t", "12", "- ", "ana.perez@school.invalid", "\u200b"])
def test_a_line_without_a_name_gives_none(line) -> None:
    assert read_name(line) is None


@pytest.mark.parametrize("line", ["---", "=====", "* * *", "1. 2. 3.", "…", "#", "2024/25"])
def test_a_line_without_a_letter_is_nobody_s_name(line) -> None:
    assert read_name(line) is None
    assert [name.given_name for name in read_names(f"Ana P\n{line}\nBo")] == ["Ana", "Bo"]


def test_the_preview_says_which_lines_were_left_out() -> None:
    classroom = make_class(0)
    page = teacher_client(classroom).post(
        f"/classes/{classroom.code}/students/paste/", {"names": "Class 5B\nAna P\n-----\n\nBo K"}
    )
    assert "1 line without a name was left out: -----" in words(page)
    assert page.content.decode().count('name="form-') >= 3
    assert 'value="-----"' not in page.content.decode()


def test_several_commas_are_a_list_in_one_line() -> None:
    assert [name.given_name for name in read_names("Ana, Bo, Cem P., Dia")] == ["Ana", "Bo", "Cem", "Dia"]


def test_lines_of_every_system_are_read() -> None:
    assert len(read_names("Ana\r\nBo\nCem\rDia\u2028Eli")) == 5


@given(st.text(max_size=60))
def test_whatever_is_pasted_reads_as_clean_names(text) -> None:
    for name in read_names(text):
        assert name.given_name == tidy(name.given_name) != ""
        assert len(name.initial) <= 3
        assert not any(char in name.given_name for char in "\n\r\t\x00")


@given(st.text(max_size=20))
def test_an_initial_is_tidied_once_and_for_all(text) -> None:
    once = tidy_initial(text)
    assert tidy_initial(once) == once
    assert len(once) <= 3


def test_doubles_are_found_whatever_case_and_accents() -> None:
    names = [Name("Ana", "P"), Name("ana", "p"), Name("Zoë"), Name("Bo")]
    assert doubles(names, [Name("zoe")]) == ["twice", "twice", "known", ""]


# --- the pages ---------------------------------------------------------------------------------

pytestmark = pytest.mark.django_db


def _page(classroom, rest: str = "") -> str:
    return f"/classes/{classroom.code}/students/{rest}"


def _rows(names: list[tuple[str, str]], *, newest: int = 0, untick: tuple[int, ...] = ()) -> dict[str, str]:
    data = {"form-TOTAL_FORMS": str(len(names)), "form-INITIAL_FORMS": str(len(names)), "newest": str(newest)}
    for place, (given_name, initial) in enumerate(names):
        data[f"form-{place}-given_name"] = given_name
        data[f"form-{place}-initial"] = initial
        if place not in untick:
            data[f"form-{place}-add"] = "on"
    return data


def _names(classroom) -> list[str]:
    return [str(student) for student in classroom.students.order_by("pk")]


def test_a_pasted_list_is_shown_before_anything_is_kept() -> None:
    classroom = make_class(0)
    client = teacher_client(classroom)
    assert "A first name and an initial are enough" in client.get(_page(classroom)).content.decode()
    answer = client.post(_page(classroom, "paste/"), {"names": "Ana Pérez\nBo"})
    page = answer.content.decode()
    assert "Check the names" in page
    assert "Pérez" not in page
    assert not Student.objects.exists()


def test_forty_hard_names_survive_from_paste_to_list() -> None:
    classroom = make_class(0)
    client = teacher_client(classroom)
    answer = client.post(_page(classroom, "paste/"), {"names": "\n".join(line for line, *_rest in HARD)})
    shown = [(row["given_name"].value(), row["initial"].value()) for row in answer.context["rows"].forms]
    assert len(shown) == len(HARD) == 40
    client.post(_page(classroom, "add/"), _rows(shown))
    kept = list(Student.objects.order_by("pk").values_list("given_name", "initial"))
    assert kept == shown
    page = client.get(_page(classroom)).content.decode()
    assert "&lt;b&gt;Bo&lt;/b&gt;" in page
    assert "<b>Bo</b>" not in page


def test_a_family_name_is_stored_nowhere() -> None:
    classroom = make_class(0)
    client = teacher_client(classroom)
    client.post(_page(classroom, "paste/"), {"names": "Ana Pérez"})
    client.post(_page(classroom, "add/"), _rows([("Ana", "P")]))
    student = Student.objects.get()
    assert "Pérez" not in str([getattr(student, field.name) for field in Student._meta.fields])
    assert "rez" not in str(dict(client.session))


def test_the_preview_can_be_corrected_and_rows_left_out() -> None:
    classroom = make_class(0)
    client = teacher_client(classroom)
    client.post(_page(classroom, "add/"), _rows([("Anna", "P."), ("Bo", ""), ("", "")], untick=(1, 2)))
    assert _names(classroom) == ["Anna P."]


def test_a_ticked_row_without_a_name_is_explained_and_nothing_is_lost() -> None:
    classroom = make_class(0)
    answer = teacher_client(classroom).post(
        _page(classroom, "add/"), _rows([("Ana", "P"), ("", "Q"), ("x" * 41, "")])
    )
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Type a first name." in page
    assert "too long" in page
    assert 'value="Ana"' in page
    assert not Student.objects.exists()


def test_a_preview_without_its_rows_changes_nothing() -> None:
    classroom = make_class(0)
    answer = teacher_client(classroom).post(_page(classroom, "add/"), {})
    assert answer.status_code == 422
    assert not Student.objects.exists()


def test_a_list_that_is_sent_twice_counts_once() -> None:
    classroom = make_class(0)
    client = teacher_client(classroom)
    for _turn in range(2):
        client.post(_page(classroom, "add/"), _rows([("Ana", "P"), ("Bo", "")]))
    assert _names(classroom) == ["Ana P.", "Bo"]


def test_two_children_of_one_name_in_one_list_are_both_added() -> None:
    classroom = make_class(0)
    teacher_client(classroom).post(_page(classroom, "add/"), _rows([("Ana", "P"), ("Ana", "P")]))
    assert _names(classroom) == ["Ana P.", "Ana P."]


def test_a_name_that_is_in_the_class_is_pointed_out_and_not_ticked() -> None:
    classroom = make_class(0)
    Student.objects.create(classroom=classroom, given_name="Zoë", initial="A")
    answer = teacher_client(classroom).post(_page(classroom, "paste/"), {"names": "Zoe A.\nBo\nCem\nCem"})
    page = answer.content.decode()
    assert "in the class already" in page
    assert "twice" in page
    assert [row["add"].value() for row in answer.context["rows"].forms] == [False, True, True, True]


@pytest.mark.parametrize(
    ("names", "message"),
    [
        ("", "at least one name"),
        ("  \n 12\n", "no name in it"),
        ("\n".join(f"Child{n}" for n in range(61)), "60 is the most"),
        ("x" * 8001, "more than a class list"),
    ],
)
def test_a_list_that_cannot_be_used_is_explained_and_kept(names, message) -> None:
    classroom = make_class(0)
    answer = teacher_client(classroom).post(_page(classroom, "paste/"), {"names": names})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert message in page
    assert names.strip()[:50] in page


def test_one_child_is_typed() -> None:
    classroom = make_class(0)
    teacher_client(classroom).post(_page(classroom, "new/"), {"given_name": " Ana  Lucía ", "initial": "p."})
    assert _names(classroom) == ["Ana Lucía P."]


def test_a_child_of_the_same_name_is_asked_about_once() -> None:
    classroom = make_class(0)
    first = Student.objects.create(classroom=classroom, given_name="Ana", initial="P")
    client = teacher_client(classroom)
    typed = {"given_name": "Ana", "initial": "P", "newest": str(first.pk)}
    answer = client.post(_page(classroom, "new/"), typed)
    assert answer.status_code == 422
    assert "in the class already" in answer.content.decode()
    assert Student.objects.count() == 1
    for _turn in range(2):
        client.post(_page(classroom, "new/"), {**typed, "same_name": "on"})
    assert Student.objects.count() == 2


@pytest.mark.parametrize("given_name", ["", "   ", "\u200b", "x" * 41])
def test_a_child_needs_a_name(given_name) -> None:
    classroom = make_class(0)
    answer = teacher_client(classroom).post(_page(classroom, "new/"), {"given_name": given_name})
    assert answer.status_code == 422
    assert not Student.objects.exists()


def test_an_initial_is_no_family_name() -> None:
    classroom = make_class(0)
    answer = teacher_client(classroom).post(
        _page(classroom, "new/"), {"given_name": "Ana", "initial": "Pérez"}
    )
    assert "One letter is enough" in answer.content.decode()
    assert not Student.objects.exists()


def test_a_name_is_edited_and_live_pages_hear_of_it() -> None:
    classroom = make_class(1, children=1)
    challenge = make_challenge(classroom)
    student = classroom.students.get()
    client = teacher_client(classroom)
    client.post(_page(classroom, f"{student.pk}/"), {"given_name": "Anna", "initial": "Q"})
    assert _names(classroom) == ["Anna Q."]
    challenge.revision.refresh_from_db()
    assert challenge.revision.number == 1


def test_a_child_who_left_leaves_the_list_and_the_work_stays() -> None:
    classroom = make_class(1, children=1)
    student = classroom.students.get()
    client = teacher_client(classroom)
    page = _page(classroom, f"{student.pk}/left/")
    assert "work stays" in client.get(page).content.decode()
    client.post(page, {"left": "yes"})
    student.refresh_from_db()
    assert student.left_at is not None
    assert TeamMember.objects.filter(student=student).exists()
    assert client.get(_page(classroom)).context["rows"] == []
    client.post(page, {"left": "no"})
    student.refresh_from_db()
    assert student.left_at is None
    assert client.get(_page(classroom)).context["rows"] == [(student, "Gannet")]


def test_a_child_of_another_class_cannot_be_reached() -> None:
    mine, other = make_class(1), make_class(1)
    child = other.students.first()
    client = teacher_client(mine)
    for rest in (f"{child.pk}/", f"{child.pk}/left/"):
        assert client.get(_page(mine, rest)).status_code == 404
        assert client.post(_page(mine, rest), {"given_name": "X", "left": "yes"}).status_code == 404
