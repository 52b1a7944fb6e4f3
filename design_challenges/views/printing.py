"""The paper that printed pages are laid out for: the class's measuring suggests it, a person chooses."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from classroom.access import TeacherRequest

PAPERS = ("a4", "letter")
_KEPT = "paper"


def paper_context(request: TeacherRequest, unit_system: str | None) -> dict[str, Any]:
    """Return what `print/base_print.html` needs of the paper: its size, and the links to choose another.

    A choice holds for the session. A page that answers a form has no address to choose again, so no links.
    """
    asked = request.GET.get("paper", "")
    if asked in PAPERS and request.session.get(_KEPT) != asked:
        request.session[_KEPT] = asked
    usual = "letter" if unit_system == "us" else "a4"
    paper = asked if asked in PAPERS else request.session.get(_KEPT, usual)
    return {"paper": paper, "papers": _links(request, paper) if request.method == "GET" else ()}


def _links(request: TeacherRequest, paper: str) -> list[dict[str, Any]]:
    names = {"a4": _("A4"), "letter": _("US letter")}
    links = []
    for slug in PAPERS:
        query = request.GET.copy()
        query["paper"] = slug
        links.append({"label": names[slug], "url": f"?{query.urlencode()}", "current": slug == paper})
    return links
