"""Roster files of every sort: encodings, separators, workbooks, columns, bad rows, refusals."""

from __future__ import annotations

import csv
import io
import zipfile

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook

from classroom.roster import tidy
from classroom.rosters import archive, faults, workbook
from classroom.rosters.children import Child, groups_of, read_children
from classroom.rosters.columns import Columns, guess
from classroom.rosters.decode import decode
from classroom.rosters.faults import RosterError
from classroom.rosters.source import open_roster
from classroom.rosters.table import Table
from design_challenges.services.exports import written
from tests.support.growth import MANY, hold_in_proportion
from tests.support.hard_names import HARD_NAMES
from tests.support.oneroster import zipped
from tests.support.yardstick import processor_s


def read(data: bytes, group: str = "") -> tuple[list[Child], list[tuple[int, str]]]:
    table = open_roster(data)
    assert isinstance(table, Table)
    reading = read_children(table, guess(table), group)
    return reading.children, [(fault.line, fault.reason) for fault in reading.faults]


def shown(data: bytes) -> list[str]:
    return [child.name.shown for child in read(data)[0]]


def book(*rows, title: str = "List", more=None) -> bytes:
    made = Workbook()
    made.active.title = title
    for row in rows:
        made.active.append(row)
    if more:
        more(made)
    out = io.BytesIO()
    made.save(out)
    return out.getvalue()


# --- encodings ---------------------------------------------------------------------------------

TEXT = "First name,Last name\r\nZoë,Ångström\r\nŁucja,Żak\r\nБоян,Ёлкин\r\n"
WESTERN = "Vorname;Nachname\nJörg;Müller\nZoë;d’Arc\n"


@pytest.mark.parametrize(
    ("data", "encoding"),
    [
        (TEXT.encode(), "UTF-8"),
        (TEXT.encode("utf-8-sig"), "UTF-8 with a byte order mark"),
        (TEXT.encode("utf-16"), "UTF-16"),
        (b"\xfe\xff" + TEXT.encode("utf-16-be"), "UTF-16"),
        (TEXT.encode("utf-16-le"), "UTF-16"),
        (TEXT.encode("utf-16-be"), "UTF-16"),
        (TEXT.encode("utf-32"), "UTF-32"),
    ],
)
def test_an_encoding_is_recognized_and_said(data, encoding) -> None:
    assert decode(data).encoding == encoding
    assert decode(data).text == TEXT
    assert shown(data) == ["Zoë Å.", "Łucja Ż.", "Боян Ё."]


def test_windows_1252_is_recognized_with_its_own_apostrophe() -> None:
    assert decode(WESTERN.encode("cp1252")).encoding == "Windows-1252"
    assert shown(WESTERN.encode("cp1252")) == ["Jörg M.", "Zoë D."]


def test_one_damaged_byte_does_not_spoil_the_other_rows() -> None:
    data = TEXT.encode().replace("Łucja".encode(), b"\xc5ucja")
    children, bad = read(data)
    assert [child.given_name for child in children] == ["Zoë", "Боян"]
    assert [line for line, _reason in bad] == [3]
    assert "cannot be read" in bad[0][1]


# --- separators --------------------------------------------------------------------------------


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
def test_a_separator_is_found(separator, line_end) -> None:
    rows = [["Given name", "Surname", "ID"], ["Ana", "Pérez", "7"], ["Bo, Jr", "Ku", "8"]]
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=separator, lineterminator=line_end).writerows(rows)
    children, bad = read(out.getvalue().encode())
    assert [(child.given_name, child.initial, child.source_id) for child in children] == [
        ("Ana", "P", "7"),
        ("Bo, Jr", "K", "8"),
    ]
    assert bad == []


def test_a_line_that_names_the_separator_is_believed() -> None:
    children, _bad = read(b"sep=;\r\nName;Class\r\nPerez, Ana;5B\r\n")
    assert [(child.given_name, child.initial, child.line) for child in children] == [("Ana", "P", 3)]


def test_commas_in_one_column_belong_to_the_names() -> None:
    assert shown("Name\nPérez, Ana\nKu, Bo\n".encode()) == ["Ana P.", "Bo K."]


def test_a_title_above_the_headings_is_passed_over() -> None:
    assert shown(b"Students of 5B\n\nFirst name;Surname\nAna;Perez\n") == ["Ana P."]


def test_a_file_without_headings_is_read_by_its_cells() -> None:
    assert shown("Ana\nBo K\nCem Öz\n".encode()) == ["Ana", "Bo K.", "Cem Ö."]
    assert shown("1;Ana;Pérez;5B\n2;Bo;Ku;5B\n3;Cem;Öz;5B\n".encode()) == ["Ana P.", "Bo K.", "Cem Ö."]
    assert shown('"Pérez, Ana",17\n"Ku, Bo",18\n'.encode()) == ["Ana P.", "Bo K."]


# --- columns -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("headings", "columns"),
    [
        (["Student ID", "Last Name", "First Name", "Homeroom"], Columns(2, 1, None, 0, 3)),
        (["FORENAME", "SURNAME", "UPN", "Reg Group"], Columns(0, 1, None, 2, 3)),
        (["Name", "Vorname", "Klasse"], Columns(1, 0, None, None, 2)),
        (["Nom", "Prénom", "Classe"], Columns(1, 0, None, None, 2)),
        (["Apellidos", "Nombre", "Grupo"], Columns(1, 0, None, None, 2)),
        (["Pupil name", "Class"], Columns(None, None, 0, None, 1)),
        (["sourcedId", "givenName", "familyName"], Columns(1, 2, None, 0, None)),
        (["No", "Full_Name*", "Section"], Columns(None, None, 1, None, 2)),
    ],
)
def test_headings_are_understood(headings, columns) -> None:
    table = Table(headings, [])
    assert guess(table) == columns


def test_what_is_nobodys_business_is_left_out_at_once() -> None:
    data = (
        "First name,Date of birth,Surname,Parent name,Home phone,Note\n"
        "Ana,2016-03-04,Pérez,Eva Pérez,555 0100,ana@school.invalid\n"
        "Bo,2016-04-05,Ku,Li Ku,555 0101,bo@school.invalid\n"
    ).encode()
    table = open_roster(data)
    assert isinstance(table, Table)
    assert table.headings == ["First name", "Surname"]
    assert all("2016" not in cell and "@" not in cell for row in table.rows for cell in row.cells)


def test_a_group_takes_only_its_own_rows() -> None:
    data = b"First name,Surname,Class\nAna,Perez,5B\nBo,Ku,5A\nCem,Oz,5B\n,Nobody,5A\n"
    table = open_roster(data)
    assert isinstance(table, Table)
    assert groups_of(table, guess(table)) == [("5A", 2), ("5B", 2)]
    children, bad = read(data, "5B")
    assert [child.given_name for child in children] == ["Ana", "Cem"]
    assert bad == []


def test_of_a_family_name_only_its_beginning_is_taken() -> None:
    children, _bad = read(b"First name,Surname\nAna,van der Wolkenstein\n")
    assert children == [Child("Ana", "W", "Wol", "", 2)]


# --- bad rows ----------------------------------------------------------------------------------


def test_a_hundred_bad_rows_are_each_named_and_the_good_ones_come_in() -> None:
    lines = ["First name,Surname,ID"]
    expected = []
    for number in range(100):
        lines.append(f"Good{number},Family{number},g{number}")
        kind = number % 5
        line = len(lines) + 1
        if kind == 0:
            lines.append(f",Nameless{number},b{number}")
            expected.append((line, "There is no first name."))
        elif kind == 1:
            lines.append(f"Bad{number},Surname,b{number},one,too,many")
            expected.append((line, "The row has 6 cells, but there are only 3 headings."))
        elif kind == 2:
            lines.append(f"{'Long' * 11},Surname,b{number}")
            expected.append((line, "The first name is longer than 40 letters."))
        elif kind == 3:
            lines.append(f'"Open{number},Surname,b{number}')
            expected.append((line, "A quotation mark is opened and not closed."))
        else:
            lines.append(f"Other{number},Surname,g{number}")
            expected.append((line, f"The id g{number} stands in line {line - 1} already, with another name."))
    children, bad = read("\n".join(lines).encode())
    assert len(expected) == 100
    assert bad == expected
    assert [child.given_name for child in children] == [f"Good{number}" for number in range(100)]


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_a_child_that_stands_twice_comes_in_once(kind) -> None:
    rows = [["First name", "Surname"], ["Ana", "Pérez"], ["Ana", "Paz"], ["Ana", "Pérez"]]
    data = "\n".join(map(",".join, rows)).encode() if kind == "csv" else book(*rows)
    children, bad = read(data)
    assert [child.start for child in children] == ["Pér", "Paz"]
    assert bad == [(4, "The same name stands in line 2 already.")]


def test_a_quoted_cell_may_go_on_in_the_next_line() -> None:
    children, bad = read(b'First name,Surname\n"Ana\nMaria",Perez\nBo,Ku\n')
    assert [(child.given_name, child.line) for child in children] == [("Ana Maria", 2), ("Bo", 4)]
    assert bad == []


def test_a_mark_inside_a_cell_is_a_letter_like_others() -> None:
    children, bad = read(b'First name,Surname\nAna "Nana" M,Perez\nBo,Ku\n')
    assert [child.given_name for child in children] == ['Ana "Nana" M', "Bo"]
    assert bad == []


@given(st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=300))
def test_whatever_is_in_a_file_is_read_or_refused_in_words(text) -> None:
    data = ("First name,Surname\n" + text).encode("utf-8", errors="replace")
    table = open_roster(data)
    assert isinstance(table, Table)
    reading = read_children(table, Columns(given=0))
    assert all(child.given_name and len(child.initial) <= 3 for child in reading.children)
    assert all(fault.line >= 1 and fault.reason for fault in reading.faults)


@given(st.binary(max_size=400))
def test_whatever_bytes_are_sent_are_read_or_refused_in_words(data) -> None:
    said = "Read."
    try:
        open_roster(data)
    except RosterError as error:
        said = str(error)
    assert said.endswith(".")


# --- hard names --------------------------------------------------------------------------------


def test_forty_hard_names_lose_no_character_through_a_csv_of_ours() -> None:
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(["First name", "ID"])
    writer.writerows([written(name), str(place)] for place, name in enumerate(HARD_NAMES))
    table = open_roster(out.getvalue().encode())
    assert isinstance(table, Table)
    assert [row.cell(0) for row in table.rows] == HARD_NAMES
    children, bad = read(out.getvalue().encode())
    assert [child.given_name for child in children] == [tidy(name) for name in HARD_NAMES]
    assert bad == []


def test_forty_hard_names_lose_no_character_through_a_workbook() -> None:
    def as_text(made):
        for row in made.active.iter_rows(min_row=2, max_col=1):
            row[0].data_type = "s"

    rows = [["First name", "ID"], *([name, str(place)] for place, name in enumerate(HARD_NAMES))]
    table = open_roster(book(*rows, more=as_text))
    assert isinstance(table, Table)
    assert [row.cell(0) for row in table.rows] == HARD_NAMES


# --- workbooks ---------------------------------------------------------------------------------


def test_a_workbook_is_read_with_its_numbers_as_ids() -> None:
    def zeros(made):
        made.active["C2"].number_format = "00000"

    data = book(["First name", "Surname", "ID"], ["Ana", "Pérez", 123], ["Bo", "Ku", 7.0], more=zeros)
    children, bad = read(data)
    assert [child.source_id for child in children] == ["00123", "7"]
    assert bad == []


def test_the_sheet_with_the_names_is_found() -> None:
    def more(made):
        made.create_sheet("Names").append(["First name", "Surname"])
        made["Names"].append(["Ana", "Pérez"])
        hidden = made.create_sheet("Hidden")
        hidden.append(["First name", "Surname", "ID"])
        hidden.append(["Nobody", "X", 1])
        hidden.sheet_state = "hidden"

    data = book(["Welcome"], title="Read me", more=more)
    table = open_roster(data)
    assert isinstance(table, Table)
    assert "Names" in table.about
    assert shown(data) == ["Ana P."]


def test_a_formula_without_a_value_is_a_bad_row_and_no_formula() -> None:
    _children, bad = read(book(["First name", "Surname"], ["=1+1", "Ku"]))
    assert bad == [(2, "There is no first name.")]


# --- refusals ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "empty"),
        (b" \r\n \n", "empty"),
        (b"%PDF-1.7 ...", "PDF"),
        (b"\x89PNG\r\n\x1a\n....", "PNG"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 50, "xls"),
        (b"First name\0Ana\x01\0\0\0\x02\0\0", "not a table"),
        (b"PK\x03\x04 and then nothing", "damaged"),
        (zipped({"photo.png": b"x"}), "manifest.csv"),
        (zipped({"[Content_Types].xml": b"<x/>", "word/document.xml": b"<x/>"}), "document"),
        (zipped({"xl/workbook.xml": b"<x/>"}), "cannot be opened"),
        (b"x" * (faults.MOST_BYTES + 1), "larger than 10 MB"),
    ],
)
def test_what_is_no_roster_is_refused_with_what_to_do(data, said) -> None:
    with pytest.raises(RosterError, match=said):
        open_roster(data)


def test_a_zip_that_grows_too_large_is_not_unpacked(monkeypatch) -> None:
    bomb = zipped({"manifest.csv": b"a", "users.csv": b"0" * (archive.MOST_UNPACKED + 1)})
    assert len(bomb) < 200_000

    def refused() -> None:
        with pytest.raises(RosterError, match="grows too large"):
            open_roster(bomb)

    unpacked, _whole = processor_s(lambda: zipfile.ZipFile(io.BytesIO(bomb)).read("users.csv"))
    assert processor_s(refused)[0] < unpacked


def test_a_workbook_that_grows_too_large_is_not_unpacked() -> None:
    bomb = zipped(
        {"xl/workbook.xml": b"<x/>", "xl/worksheets/sheet1.xml": b"0" * (archive.MOST_UNPACKED + 1)}
    )
    with pytest.raises(RosterError, match="grows too large"):
        open_roster(bomb)


def test_a_workbook_that_defines_entities_is_refused() -> None:
    evil = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaa">]><x>&a;</x>'
    with pytest.raises(RosterError, match="not made by a spreadsheet"):
        open_roster(zipped({"xl/workbook.xml": evil}))


def test_a_zip_packed_in_another_way_is_refused() -> None:
    with pytest.raises(RosterError, match="unusual way"):
        open_roster(zipped({"manifest.csv": b"a" * 999}, zipfile.ZIP_LZMA))


def test_a_zip_of_too_many_files_is_refused() -> None:
    with pytest.raises(RosterError, match="too many files"):
        open_roster(zipped({f"{number}.csv": b"" for number in range(archive.MOST_PARTS + 1)}))


def test_a_table_that_goes_on_and_on_is_refused() -> None:
    with pytest.raises(RosterError, match="more than"):
        open_roster(b"Name\n" + b"Ana\n" * (faults.MOST_ROWS + 1))


def test_a_workbook_whose_rows_go_on_and_on_is_refused(monkeypatch) -> None:
    monkeypatch.setattr(workbook, "MOST_ROWS", -980)
    with pytest.raises(RosterError, match="more than"):
        open_roster(book(["Name"], *([f"Ana {number}"] for number in range(30))))


# --- size --------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_five_thousand_rows_are_read_in_ten_times_the_time_of_five_hundred(kind) -> None:
    def table(length: int) -> bytes:
        rows = [["First name", "Surname", "ID", "Class", "Mail"]]
        rows += [
            [f"Given{one}", f"Family{one}", f"id{one}", f"Class {one // 25}", f"a{one}@x.invalid"]
            for one in range(length)
        ]
        return book(*rows) if kind == "xlsx" else "\n".join(map(",".join, rows)).encode("utf-16")

    children, bad = hold_in_proportion(f"rows of {kind} are read", table, read)
    assert len(children) == MANY
    assert bad == []
