"""Every page of the project: its address, who opens it, and what must have happened before.

`PAGES` has a row (or several) for each address that shows a page; `NO_PAGES` says what the other
addresses are. A test holds both against the project's addresses, so that none is forgotten.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver, reverse

CLASS, TEAM = "classroom:", "design_challenges:"
NOBODY, TABLET, TEACHER, SUBSTITUTE, STATION = "nobody", "team", "teacher", "substitute", "station"


@dataclass(frozen=True)
class Row:
    """One page as one person opens it.

    name    the address's name, with its namespace
    who     NOBODY, TABLET, TEACHER, SUBSTITUTE or STATION
    stage   for a tablet: what its team has done (see `stages.walk`), or a class of its own
            ("asked", "paused", "unset")
    args    the address's arguments; a text `{code}` is filled in from the class that is looked at
    query   what stands behind the question mark, filled in alike
    status  what it answers with
    """

    name: str
    who: str
    stage: str = ""
    args: Mapping[str, Any] = field(default_factory=dict)
    query: str = ""
    status: int = 200

    @property
    def label(self) -> str:
        parts = [self.name.rpartition(":")[2], *map(str, self.args.values()), self.stage, self.query]
        shown = [part.strip("{}") for part in parts if part and part not in ("{code}", "{team}")]
        return f"{self.who}-" + "-".join(shown)

    def url(self, known: Mapping[str, Any]) -> str:
        """Return the address; `known` holds the values of the texts in braces."""
        args = {
            name: value.format(**known) if isinstance(value, str) else value
            for name, value in self.args.items()
        }
        query = self.query.format(**known)
        return reverse(self.name, kwargs=args) + (f"?{query}" if query else "")


def _tablet(name: str, stage: str, *, query: str = "", number: int = 1, **args: Any) -> Row:
    return Row(f"{TEAM}{name}", TABLET, stage, {"number": number, **args}, query)


def _part(part: str, stage: str, number: int = 1) -> Row:
    return _tablet("team_plan_part", stage, number=number, part=part)


def _teacher(name: str, who: str = TEACHER, query: str = "", status: int = 200, **args: Any) -> Row:
    return Row(name, who, args={"code": "{code}", **args}, query=query, status=status)


def _work(name: str, **args: Any) -> Row:
    return _teacher(f"{TEAM}{name}", team_id="{team}", **args)


TEAM_PAGES = [
    Row(f"{CLASS}leave", TABLET, "purpose"),
    _part("purpose", "purpose"),
    _part("idea-a", "idea-a"),
    _part("idea-b", "idea-b"),
    _part("limit", "limit"),
    _part("slower", "slower"),
    _part("choose", "choose"),
    _tablet("team_plan_sums", "sums"),
    _tablet("team_plan_sums", "over"),
    _part("sizes", "over"),
    _tablet("team_ready", "over"),
    _tablet("team_drawing", "drawing"),
    _tablet("team_plan", "ready"),
    _tablet("team_ready", "ready"),
    _tablet("team_ready", "cleared"),
    _tablet("team_build", "cleared"),
    _tablet("team_build", "lines"),
    _tablet("team_plan", "lines"),
    _tablet("team_build", "made"),
    _tablet("team_test", "made"),
    _tablet("team_broke", "made"),
    _tablet("team_test", "time"),
    _tablet("team_test", "round"),
    _tablet("team_test", "which", query="second={second}"),
    _tablet("team_test", "call"),
    _tablet("team_broke", "call"),
    _tablet("team_test", "dropped"),
    Row(f"{TEAM}team_queue", TABLET, "call"),
    _tablet("team_results", "dropped"),
    _tablet("team_results", "worked"),
    _tablet("team_compare", "worked"),
    _tablet("team_compare", "noticed"),
    _tablet("team_start", "noticed", number=2),
    _part("change", "change", 2),
    _part("sizes", "new-sizes", 2),
    _part("change-two", "change-two", 2),
    _tablet("team_plan_sums", "new-sums", number=2),
    _tablet("team_ready", "new-ready", number=2),
    _tablet("team_results", "new-dropped", number=2),
    _tablet("team_results", "direction", number=2),
    _tablet("team_results", "new-worked", number=2),
    _tablet("team_compare", "new-worked", number=2),
    _tablet("team_compare", "finished", number=2),
    Row(f"{TEAM}team_finished", TABLET, "finished"),
    Row(f"{TEAM}team_welcome", TABLET, "finished"),
    Row(f"{TEAM}team_exit", TABLET, "finished"),
]
OTHER_CLASSES = [
    Row(f"{TEAM}team_exit", TABLET, "asked"),
    Row(f"{TEAM}team_exit", TABLET, "asked", query="child={asked_child}"),
    _tablet("team_plan", "paused"),
    Row(f"{TEAM}team_now", TABLET, "unset"),
    Row(f"{TEAM}challenge_settings", TEACHER, args={"code": "{unset_code}"}),
    Row(f"{TEAM}measuring", TEACHER, args={"code": "{unset_code}"}),
    Row(f"{TEAM}dashboard", TEACHER, args={"code": "{unset_code}"}),
    Row(f"{TEAM}board", TEACHER, args={"code": "{unset_code}"}),
    Row(f"{TEAM}board_changes", TEACHER, args={"code": "{unset_code}"}),
    Row(f"{TEAM}numbers", TEACHER, args={"code": "{unset_code}"}),
    Row(f"{TEAM}marking", TEACHER, args={"code": "{unset_code}"}),
    Row(f"{TEAM}marking", TEACHER, args={"code": "{paused_code}"}),
    Row(f"{CLASS}students", TEACHER, args={"code": "{empty_code}"}),
    Row(f"{CLASS}teams", TEACHER, args={"code": "{empty_code}"}),
    Row(f"{CLASS}class_home", TEACHER, args={"code": "{empty_code}"}),
    Row(f"{CLASS}class_home", TEACHER, args={"code": "{archived_code}"}),
    Row(f"{CLASS}class_archive", TEACHER, args={"code": "{archived_code}"}),
]
NOBODYS_PAGES = [
    Row(f"{CLASS}home", NOBODY),
    Row(f"{CLASS}join", NOBODY),
    Row(f"{CLASS}join_link", NOBODY, args={"class_code": "{code}", "team_code": "{team_code}"}),
    Row(f"{CLASS}join_link", NOBODY, args={"class_code": "{code}", "team_code": "WRONG"}),
    Row(f"{CLASS}sign_in", NOBODY),
    Row(f"{CLASS}first_teacher", NOBODY, args={"token": "used"}, status=404),
    Row(f"{CLASS}teacher_welcome", NOBODY, args={"who": "{invited}", "token": "{invitation}"}),
    Row(f"{CLASS}teacher_welcome", NOBODY, args={"who": "used", "token": "up"}, status=404),
    Row(f"{TEAM}substitute_in", NOBODY, args={"token": "{card}"}),
    Row(f"{TEAM}substitute_in", NOBODY, args={"token": "{old_card}"}, status=410),
    Row(f"{CLASS}check", NOBODY),
    Row(f"{TEAM}station", NOBODY, status=403),
    Row(f"{TEAM}station_in", NOBODY, args={"token": "{station}"}),
    Row(f"{TEAM}station_in", NOBODY, args={"token": "{old_station}"}, status=410),
]
ADULTS_PAGES = [
    Row(f"{CLASS}classes", TEACHER),
    Row(f"{CLASS}classes", TEACHER, query="archived"),
    Row(f"{TEAM}erase_older", TEACHER),
    Row(f"{TEAM}erase_older", TEACHER, query="before=2020-01-31"),
    Row(f"{TEAM}erase_older", TEACHER, query="before=soon", status=422),
    Row(f"{CLASS}class_new", TEACHER),
    Row(f"{CLASS}school_roster", TEACHER),
    Row(f"{CLASS}teacher_new", TEACHER),
    Row(f"{CLASS}password_change", TEACHER),
    Row(f"{CLASS}privacy", TEACHER),
]
CLASS_PAGES = [
    _teacher(f"{CLASS}class_home"),
    _teacher(f"{CLASS}class_rename"),
    _teacher(f"{CLASS}class_archive"),
    _teacher(f"{CLASS}students"),
    _teacher(f"{CLASS}students_paste"),
    _teacher(f"{CLASS}student_new"),
    _teacher(f"{CLASS}student_edit", pk="{student}"),
    _teacher(f"{CLASS}student_left", pk="{student}"),
    _teacher(f"{TEAM}child_erase", pk="{student}"),
    _teacher(f"{TEAM}class_erase"),
    _teacher(f"{TEAM}class_people"),
    _teacher(f"{TEAM}copy_settings"),
    _teacher(f"{CLASS}roster_file"),
    _teacher(f"{CLASS}teams"),
    _teacher(f"{CLASS}teams_shuffle"),
    _teacher(f"{CLASS}teams_add"),
    _teacher(f"{CLASS}teams_seat"),
    _teacher(f"{CLASS}team_rename", pk="{team}"),
    _teacher(f"{CLASS}team_code", pk="{team}"),
    _teacher(f"{CLASS}team_merge", pk="{team}"),
    _teacher(f"{TEAM}challenge_settings"),
    _teacher(f"{TEAM}settings_change"),
    _teacher(f"{TEAM}dashboard"),
    _teacher(f"{TEAM}dashboard", SUBSTITUTE),
    _teacher(f"{TEAM}measuring"),
    _teacher(f"{TEAM}measuring", SUBSTITUTE),
    _work("team_work"),
    _work("correct_size", number=1, stage="planned", quantity="line_length", spot=1),
    _work("correct_size", number=1, stage="built", quantity="canopy_diameter", spot=2),
    _work("correct_note", number=1, prompt="purpose"),
    _work("correct_drop", number=1, drop_id="{drop}"),
    _work("judge_drop", number=1, drop_id="{drop}"),
    _work("clear_by_hand", number=2),
    _teacher(f"{TEAM}lessons"),
    _teacher(f"{TEAM}lessons", SUBSTITUTE),
    _teacher(f"{TEAM}lesson_end"),
    _teacher(f"{TEAM}lesson_report", number=1),
    _teacher(f"{TEAM}substitute_cards"),
    Row(f"{TEAM}station", STATION),
    _teacher(f"{TEAM}stations"),
    _teacher(f"{TEAM}stations", SUBSTITUTE),
    _teacher(f"{TEAM}unplaced"),
    _teacher(f"{TEAM}unplaced_give", pk="{unplaced}"),
    _teacher(f"{TEAM}board"),
    _teacher(f"{TEAM}board", query="view=table"),
    _teacher(f"{TEAM}board", query="round=1"),
    _teacher(f"{TEAM}board", SUBSTITUTE),
    _teacher(f"{TEAM}slips"),
    _teacher(f"{TEAM}slips", SUBSTITUTE),
    _teacher(f"{TEAM}slips_children", step="area"),
    _teacher(f"{TEAM}exit_paper", step="area"),
    _teacher(f"{TEAM}board_changes"),
    _teacher(f"{TEAM}board_changes", query="view=twins"),
    _teacher(f"{TEAM}board_changes", query="view=sure&letters=yes"),
    _teacher(f"{TEAM}board_changes", SUBSTITUTE),
    _teacher(f"{TEAM}numbers"),
    _teacher(f"{TEAM}numbers", query="within=0.2&line=line_length"),
    _teacher(f"{TEAM}reference"),
    _teacher(f"{TEAM}marking"),
    _teacher(f"{TEAM}marking", query="at=t{team}"),
    _teacher(f"{TEAM}marking", query="at=s{student}&second=yes"),
    _teacher(f"{TEAM}marking_evidence", query="at=s{student}:decimals"),
    _teacher(f"{TEAM}rubric"),
    _teacher(f"{TEAM}rubric_change"),
    _teacher(f"{TEAM}marking_agreement"),
    _teacher(f"{TEAM}files"),
    _teacher(f"{TEAM}mark_files"),
    _teacher(f"{TEAM}paper"),
    _teacher(f"{TEAM}paper", SUBSTITUTE),
    _teacher(f"{TEAM}paper_team_cards"),
    _teacher(f"{TEAM}paper_tags"),
    _teacher(f"{TEAM}records"),
    _teacher(f"{TEAM}team_record", team_id="{team}"),
    _teacher(f"{TEAM}child_records"),
    _teacher(f"{TEAM}child_record", student_id="{member}"),
    _teacher(f"{TEAM}letters"),
    _teacher(f"{TEAM}letter", student_id="{member}"),
    _teacher(f"{TEAM}class_report"),
    _teacher(f"{TEAM}paper_area_table"),
    _teacher(f"{TEAM}materials"),
    _teacher(f"{TEAM}materials", SUBSTITUTE),
    _teacher(f"{TEAM}materials", query="across=1+m&width_2=20&teams=none", status=422),
    _teacher(f"{TEAM}materials_sheet"),
    _teacher(f"{TEAM}paper_tally", number=1),
    _teacher(f"{TEAM}paper_steps", number=1),
    _teacher(f"{TEAM}paper_steps", number=2),
    _teacher(f"{TEAM}paper_type_in_list", number=1),
    _teacher(f"{TEAM}paper_type_in", number=2, team_id="{team}"),
]
PAGES = [*NOBODYS_PAGES, *TEAM_PAGES, *OTHER_CLASSES, *ADULTS_PAGES, *CLASS_PAGES]

# Addresses that show no page of their own, and what they are instead.
NO_PAGES = {
    f"{CLASS}school_places": "takes a POST, a GET goes to the school's roster",
    f"{TEAM}class_copy": "a zip",
    f"{TEAM}child_copy": "a zip",
    f"{TEAM}people_out": "takes a POST",
    "healthz": "JSON for whoever watches the server",
    f"{TEAM}entries": "JSON for a tablet's outbox",
    f"{CLASS}sign_out": "takes a POST",
    f"{CLASS}joining": "takes a POST",
    f"{CLASS}students_add": "takes a POST, a GET goes to the list",
    f"{CLASS}roster_columns": "takes a POST, a GET goes to the roster file",
    f"{CLASS}roster_class": "takes a POST, a GET goes to the roster file",
    f"{CLASS}roster_add": "takes a POST, a GET goes to the roster file",
    f"{CLASS}teams_new_codes": "takes a POST, a GET goes to the teams",
    f"{CLASS}team_order": "takes a POST, a GET goes to the teams",
    f"{CLASS}team_close": "takes a POST, a GET goes to the teams",
    f"{TEAM}team_help": "takes a POST",
    f"{TEAM}team_jobs": "takes a POST",
    f"{TEAM}team_pulse": "a part of the team's pages, fetched by them",
    f"{TEAM}team_tape": "a drawing beside a field, fetched by it",
    f"{TEAM}team_photo": "a picture",
    f"{TEAM}class_photo": "a picture",
    f"{TEAM}pause": "takes a POST",
    f"{TEAM}joining": "takes a POST",
    f"{TEAM}gate": "takes a POST",
    f"{TEAM}help_answered": "takes a POST",
    f"{TEAM}settle_reading": "takes a POST",
    f"{TEAM}board_cover": "takes a POST",
    f"{TEAM}board_order": "takes a POST",
    f"{TEAM}board_timer": "takes a POST",
    f"{TEAM}lesson_start": "takes a POST",
    f"{TEAM}reference_out": "takes a POST",
    f"{TEAM}numbers_table": "a text file",
    f"{TEAM}attendance": "takes a POST",
    f"{TEAM}substitute_new": "takes a POST",
    f"{TEAM}station_worker": "a script of the station's page",
    f"{TEAM}team_worker": "a script of the team's pages",
    f"{TEAM}station_queue": "JSON for the station's page",
    f"{TEAM}station_entry": "takes a POST",
    f"{TEAM}station_entries": "takes a POST",
    f"{TEAM}station_new": "takes a POST",
    f"{TEAM}station_here": "takes a POST",
    f"{TEAM}station_withdraw": "takes a POST",
    f"{TEAM}unplaced_aside": "takes a POST",
    f"{TEAM}substitute_withdraw": "takes a POST",
    f"{TEAM}show_steps": "takes a POST",
    f"{TEAM}exit_switch": "takes a POST",
    f"{TEAM}saw_it": "takes a POST",
    f"{TEAM}marking_remark": "takes a POST",
    f"{TEAM}rubric_begin": "takes a POST",
    f"{TEAM}rubric_keep": "takes a POST",
    f"{TEAM}gradebook": "a spreadsheet",
    f"{TEAM}csv_file": "a text file",
    f"{TEAM}marks_csv": "a text file",
    f"{TEAM}results_file": "a zip file",
}


def every_address() -> Iterator[str]:
    """Yield the name of every address of the project, with its namespace."""
    yield from _names(get_resolver(), "")


def _names(resolver: URLResolver, space: str) -> Iterator[str]:
    for pattern in resolver.url_patterns:
        if isinstance(pattern, URLResolver):
            inner = f"{space}{pattern.namespace}:" if pattern.namespace else space
            yield from _names(pattern, inner)
        elif isinstance(pattern, URLPattern):
            yield f"{space}{pattern.name}"
