"""Who may do what: a row for every address, and what it answers each kind of visitor by GET and by POST.

A new address needs a row in `ROWS`: `_row(name, get, post, sent, **ids)`, or one of the shorter ones below.

name       the address's name with its namespace
get, post  its doors: what it answers every visitor; where none fits, add one
sent       what a POST must carry where an empty one is refused as unknown
ids        the address's arguments; in braces a thing of a class (`pk="{student}"`), which the test also
           tries with the same thing of another class; `code` and `number` need not be given
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

# --- visitors ---------------------------------------------------------------------------------------------

NOBODY = "nobody"
TABLET = "tablet of this team"
OTHER_TEAM = "tablet of another team"
OTHER_CLASS = "tablet of another class"
STRANGER = "teacher of another class"
TEACHER = "this teacher"
SUBSTITUTE = "substitute"
OTHER_SUBSTITUTE = "substitute of another class"
STATION = "timing station"
OTHER_STATION = "timing station of another class"
ADMINISTRATOR = "administrator"
VISITORS = (
    NOBODY,
    TABLET,
    OTHER_TEAM,
    OTHER_CLASS,
    STRANGER,
    TEACHER,
    SUBSTITUTE,
    OTHER_SUBSTITUTE,
    STATION,
    OTHER_STATION,
    ADMINISTRATOR,
)
TABLETS = frozenset({TABLET, OTHER_TEAM, OTHER_CLASS})
ACCOUNTS = frozenset({STRANGER, TEACHER, ADMINISTRATOR})

# --- answers ----------------------------------------------------------------------------------------------

IN = "let in"
JOIN = "sent to join"
SIGN_IN = "sent to sign in"
NO_METHOD = "405"
NOT_FOUND = "404"
FORBIDDEN = "403"

Door = Mapping[str, str]
"""The answer for each visitor."""


def _door(inside: frozenset[str], *, adults_outside: str = SIGN_IN, others: str = SIGN_IN) -> Door:
    """Return a door that lets these visitors in and tells the others where they belong."""
    outside = {visitor: adults_outside if visitor in ACCOUNTS else others for visitor in VISITORS}
    return {visitor: IN if visitor in inside else outside[visitor] for visitor in VISITORS}


def _no_method(door: Door) -> Door:
    """Return a door that asks who is there first and then says that this is not done here."""
    return {visitor: NO_METHOD if answer == IN else answer for visitor, answer in door.items()}


EVERYBODY = _door(frozenset(VISITORS))
NEVER = dict.fromkeys(VISITORS, NOT_FOUND)
REFUSED = dict.fromkeys(VISITORS, NO_METHOD)
"""This method is not for this address, whoever asks."""

A_TABLET = _door(TABLETS, adults_outside=JOIN, others=JOIN)
"""Each team's own page: it has no class in its address, so another team's tablet gets its own team's."""

A_STATION = {visitor: IN if visitor in (STATION, OTHER_STATION) else FORBIDDEN for visitor in VISITORS}
"""The station's own page: it has no class in its address, so another class's station gets its own."""

THIS_TEAM = {**A_TABLET, OTHER_TEAM: NOT_FOUND, OTHER_CLASS: NOT_FOUND}
AN_ADULT = _door(ACCOUNTS)
A_TECHNICIAN = _door(frozenset({ADMINISTRATOR}), adults_outside=NOT_FOUND)
OWN_CLASS = _door(frozenset({TEACHER}), adults_outside=NOT_FOUND)
OWN_CLASS_OR_CARD = _door(frozenset({TEACHER, SUBSTITUTE}), adults_outside=NOT_FOUND)


@dataclass(frozen=True)
class Row:
    """One address and its doors."""

    name: str
    get: Door
    post: Door
    ids: Mapping[str, Any]
    sent: Mapping[str, str]


def _row(name: str, /, get: Door, post: Door, sent: Mapping[str, str] | None = None, **ids: Any) -> Row:
    return Row(name, get, post, ids, sent or {})


def _team(name: str, /, get: Door = A_TABLET, post: Door = A_TABLET, **ids: Any) -> Row:
    return _row(f"design_challenges:{name}", get, post, **ids)


def _shown(name: str, /, **ids: Any) -> Row:
    """A page of the teacher's that is only looked at, by a substitute too."""
    return _row(f"design_challenges:{name}", OWN_CLASS_OR_CARD, REFUSED, **ids)


def _changed(name: str, /, **ids: Any) -> Row:
    """A button of the teacher's, for a substitute too."""
    return _row(f"design_challenges:{name}", REFUSED, OWN_CLASS_OR_CARD, **ids)


def _by_hand(name: str, /, **ids: Any) -> Row:
    """A page with a form of the teacher's, for a substitute too."""
    return _row(f"design_challenges:{name}", OWN_CLASS_OR_CARD, OWN_CLASS_OR_CARD, **ids)


def _own(name: str, /, get: Door = OWN_CLASS, post: Door = OWN_CLASS, **ids: Any) -> Row:
    return _row(name, get, post, **ids)


ROWS = (
    # --- the front door
    _row("healthz", EVERYBODY, REFUSED),
    _row("design_challenges:entries", EVERYBODY, REFUSED),
    _row("classroom:home", EVERYBODY, REFUSED),
    _row("classroom:join", EVERYBODY, EVERYBODY),
    _row("classroom:join_link", EVERYBODY, EVERYBODY, class_code="{code}", team_code="{team_code}"),
    _row("classroom:leave", EVERYBODY, EVERYBODY),
    _row("classroom:privacy", EVERYBODY, REFUSED),
    _row("classroom:check", EVERYBODY, REFUSED),
    # --- adults' accounts
    _row("classroom:sign_in", EVERYBODY, EVERYBODY),
    _row("classroom:sign_out", REFUSED, EVERYBODY),
    _row("classroom:password_change", AN_ADULT, AN_ADULT),
    _row("classroom:first_teacher", NEVER, NEVER, token="used"),
    _row("classroom:teacher_new", AN_ADULT, AN_ADULT),
    _row("classroom:teacher_welcome", EVERYBODY, EVERYBODY, who="{invited}", token="{invitation}"),
    _row("classroom:school_roster", A_TECHNICIAN, A_TECHNICIAN),
    _row("classroom:school_places", A_TECHNICIAN, A_TECHNICIAN),
    # --- classes
    _row("classroom:classes", AN_ADULT, AN_ADULT),
    _row("classroom:class_new", AN_ADULT, AN_ADULT),
    _own("classroom:class_home"),
    _own("classroom:class_rename"),
    _own("classroom:class_archive"),
    _own("classroom:joining", OWN_CLASS_OR_CARD, OWN_CLASS_OR_CARD),
    # --- students
    _own("classroom:students"),
    _own("classroom:students_paste"),
    _own("classroom:students_add"),
    _own("classroom:student_new"),
    _own("classroom:student_edit", pk="{student}"),
    _own("classroom:student_left", pk="{student}"),
    # --- a roster file
    _own("classroom:roster_file"),
    _own("classroom:roster_columns"),
    _own("classroom:roster_class"),
    _own("classroom:roster_add"),
    # --- teams
    _own("classroom:teams"),
    _own("classroom:teams_shuffle"),
    _own("classroom:teams_add"),
    _own("classroom:teams_new_codes"),
    _own("classroom:teams_seat"),
    _own("classroom:team_rename", pk="{team}"),
    _own("classroom:team_order", pk="{team}"),
    _own("classroom:team_code", pk="{team}"),
    _own("classroom:team_merge", pk="{team}"),
    _own("classroom:team_close", pk="{team}"),
    # --- the team's tablet
    _team("team_now", post=_no_method(A_TABLET)),
    _team("team_help", _no_method(A_TABLET), A_TABLET),
    _team("team_jobs", _no_method(A_TABLET), A_TABLET),
    _team("team_tape", post=REFUSED),
    _team("team_pulse", post=_no_method(A_TABLET)),
    _team("team_queue", post=_no_method(A_TABLET)),
    _team("team_exit"),
    _team("team_finished", post=_no_method(A_TABLET)),
    _team("team_welcome", post=REFUSED),
    _team("team_photo", THIS_TEAM, _no_method(A_TABLET), photo_id="{photo}"),
    _team("team_start"),
    _team("team_plan", post=_no_method(A_TABLET)),
    _team("team_plan_sums"),
    _team("team_drawing"),
    _team("team_plan_part", part="purpose"),
    _team("team_ready"),
    _team("team_build"),
    _team("team_test"),
    _team("team_broke"),
    _team("team_results"),
    _team("team_compare"),
    # --- the set-up
    _own("design_challenges:challenge_settings"),
    _own("design_challenges:settings_change"),
    # --- the live page
    _shown("dashboard"),
    _changed("pause"),
    _changed("joining"),
    _changed("gate", sent={"gate": "1:plan:open"}),
    _changed("help_answered", team_id="{team}"),
    _shown("measuring"),
    _own("design_challenges:numbers", post=REFUSED),
    _own("design_challenges:numbers_table", post=REFUSED, name="builds"),
    # --- one team's work
    _row(
        "design_challenges:class_photo",
        OWN_CLASS_OR_CARD,
        _no_method(OWN_CLASS_OR_CARD),
        photo_id="{photo}",
    ),
    _shown("team_work", team_id="{team}"),
    _by_hand("correct_size", team_id="{team}", stage="planned", quantity="line_length", spot=1),
    _by_hand("correct_note", team_id="{team}", prompt="purpose"),
    _by_hand("correct_drop", team_id="{team}", drop_id="{drop}"),
    _by_hand("judge_drop", team_id="{team}", drop_id="{drop}"),
    _changed("settle_reading", team_id="{team}", reading_id="{reading}"),
    _by_hand("clear_by_hand", team_id="{team}"),
    # --- what children can do alone
    _shown("slips"),
    _shown("slips_children", step="area"),
    _changed("exit_switch", step="area"),
    _shown("exit_paper", step="area"),
    _changed("saw_it", sent={"saw": "{student}"}, step="area"),
    _changed("show_steps", team_id="{team}", step="area"),
    # --- lessons
    _shown("lessons"),
    _changed("lesson_start"),
    _by_hand("lesson_end"),
    _changed("attendance"),
    _by_hand("reference"),
    _changed("reference_out", pk="{reference}"),
    _shown("lesson_report"),
    _row("design_challenges:substitute_cards", OWN_CLASS, REFUSED),
    _row("design_challenges:substitute_new", REFUSED, OWN_CLASS),
    _row("design_challenges:substitute_withdraw", REFUSED, OWN_CLASS, pk="{card}"),
    _row("design_challenges:substitute_in", EVERYBODY, EVERYBODY, token="{card_token}"),
    # --- the timing station
    _row("design_challenges:station", A_STATION, A_STATION),
    _row("design_challenges:station_worker", EVERYBODY, REFUSED),
    _row("design_challenges:team_worker", EVERYBODY, REFUSED),
    _row("design_challenges:station_queue", A_STATION, _no_method(A_STATION)),
    _row("design_challenges:station_entry", REFUSED, A_STATION),
    _row("design_challenges:station_entries", REFUSED, A_STATION, sent={"entries": '[{{"do": "dance"}}]'}),
    _row("design_challenges:station_in", EVERYBODY, EVERYBODY, token="{station_token}"),
    _shown("stations"),
    _changed("station_new"),
    _changed("station_here"),
    _changed("station_withdraw", pk="{station}"),
    _shown("unplaced"),
    _by_hand("unplaced_give", pk="{unplaced}"),
    _changed("unplaced_aside", pk="{unplaced}"),
    # --- the board
    _shown("board"),
    _shown("board_changes"),
    _changed("board_cover", sent={"column": "all"}),
    _changed("board_order", sent={"order": "team"}),
    _changed("board_timer", sent={"minutes": "2"}),
    # --- marks
    _own("design_challenges:marking"),
    _own("design_challenges:marking_evidence", post=REFUSED),
    _row("design_challenges:marking_remark", REFUSED, OWN_CLASS, {"at": "s{student}"}),
    _own("design_challenges:rubric", post=REFUSED),
    _row("design_challenges:rubric_begin", REFUSED, OWN_CLASS),
    _own("design_challenges:rubric_change"),
    _row("design_challenges:rubric_keep", REFUSED, OWN_CLASS),
    _own("design_challenges:marking_agreement", post=REFUSED),
    # --- files and paper
    _own("design_challenges:files", post=REFUSED),
    _own("design_challenges:gradebook", post=REFUSED),
    _own("design_challenges:csv_file", post=REFUSED, name="teams"),
    _own("design_challenges:mark_files"),
    _own("design_challenges:marks_csv", post=REFUSED),
    _own("design_challenges:results_file", post=REFUSED, version="1.2"),
    # --- the year's round
    _row("design_challenges:erase_older", AN_ADULT, AN_ADULT),
    _own("design_challenges:class_copy", post=REFUSED),
    _own("design_challenges:child_copy", post=REFUSED, pk="{student}"),
    _own("design_challenges:class_erase"),
    _own("design_challenges:child_erase", pk="{student}"),
    _own("design_challenges:class_people"),
    _row("design_challenges:people_out", REFUSED, OWN_CLASS, pk="{colleague}"),
    _own("design_challenges:copy_settings"),
    _shown("paper"),
    _shown("paper_team_cards"),
    _shown("paper_tags"),
    _shown("paper_area_table"),
    _shown("materials"),
    _shown("materials_sheet"),
    _own("design_challenges:records", post=REFUSED),
    _own("design_challenges:team_record", post=REFUSED, team_id="{team}"),
    _own("design_challenges:child_records", post=REFUSED),
    _own("design_challenges:child_record", post=REFUSED, student_id="{student}"),
    _own("design_challenges:letters", post=REFUSED),
    _own("design_challenges:letter", post=REFUSED, student_id="{student}"),
    _own("design_challenges:class_report", post=REFUSED),
    _shown("paper_tally"),
    _shown("paper_steps"),
    _shown("paper_type_in_list"),
    _by_hand("paper_type_in", team_id="{team}"),
)
