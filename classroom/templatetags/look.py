"""What templates need around their content: a form's problems as one list, the links of a class."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from django import template
from django.forms import BaseForm, BaseFormSet
from django.urls import NoReverseMatch, reverse
from django.utils.translation import gettext_lazy as _

from classroom.codes import in_groups

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from django.http import HttpRequest
    from django.template import Context
    from django.utils.functional import _StrPromise

register = template.Library()
register.filter("in_groups", in_groups)

CLASS_PAGES: list[tuple[str, _StrPromise]] = [
    ("classroom:class_home", _("Class")),
    ("classroom:students", _("Students")),
    ("classroom:teams", _("Teams")),
    ("design_challenges:challenge_settings", _("Challenge")),
    ("design_challenges:lessons", _("Lessons")),
    ("design_challenges:dashboard", _("Dashboard")),
    ("design_challenges:slips", _("Slips")),
    ("design_challenges:board", _("Class board")),
    ("design_challenges:paper", _("Paper")),
    ("design_challenges:marking", _("Marks")),
    ("design_challenges:files", _("Files")),
]

# Pages without a link of their own stand under another one, whatever their address begins with.
BELOW = dict.fromkeys(
    (
        "design_challenges:measuring",
        "design_challenges:numbers",
        "design_challenges:team_work",
        "design_challenges:correct_size",
        "design_challenges:correct_note",
        "design_challenges:correct_drop",
        "design_challenges:judge_drop",
        "design_challenges:clear_by_hand",
    ),
    "design_challenges:dashboard",
)


@dataclass(frozen=True)
class Problem:
    """One message of a form: the id of the field it stands beside ("" when it is the whole form's)."""

    target: str
    label: str
    message: str


@dataclass(frozen=True)
class Link:
    """One link of a navigation; `current` on the page it leads to and on the pages below that."""

    url: str
    label: str
    current: bool


def _of_form(form: BaseForm) -> Iterator[Problem]:
    for name, messages in form.errors.items():
        if name not in form.fields or form[name].is_hidden:
            yield from (Problem("", "", str(message)) for message in messages)
            continue
        field = form[name]
        label = str(field.label).rstrip("?:. ")
        yield from (Problem(field.auto_id, label, str(message)) for message in messages)


def _of(thing: object) -> Iterator[Problem]:
    if isinstance(thing, BaseForm):
        yield from _of_form(thing)
    elif isinstance(thing, BaseFormSet):
        if thing.is_bound:
            yield from (Problem("", "", str(message)) for message in thing.non_form_errors())
            yield from _all(thing.forms)
    elif isinstance(thing, list | tuple):
        yield from _all(thing)


def _all(things: Iterable[object]) -> Iterator[Problem]:
    for thing in things:
        yield from _of(thing)


@register.simple_tag
def problems(*things: object) -> list[Problem]:
    """`{% problems form forms as found %}`: every error of forms and formsets, in page order."""
    return list(_all(things))


@register.simple_tag(takes_context=True)
def class_links(context: Context, code: str) -> list[Link]:
    """`{% class_links classroom.code as links %}`: the teacher's pages of one class that exist."""
    path = _path_in_menu(context["request"], code) if "request" in context else ""
    found: list[tuple[str, str]] = []
    for name, label in CLASS_PAGES:
        try:
            found.append((reverse(name, args=[code]), str(label)))
        except NoReverseMatch:
            continue
    # A class's own page is the beginning of all its addresses; the longest that fits is where we are.
    here = max((url for url, _label in found if path.startswith(url)), key=len, default="")
    return [Link(url, label, url == here) for url, label in found]


def _path_in_menu(request: HttpRequest, code: str) -> str:
    """Return the address whose link is the current one: the page's own, or that of the page it is below."""
    match = request.resolver_match
    parent = BELOW.get(match.view_name) if match is not None else None
    return reverse(parent, args=[code]) if parent else request.path
