"""Small pages that use each script of the look on its own: a form, a live section with a chart, a drawing."""

from __future__ import annotations

import json
import time
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.urls import path
from django.views.decorators.csrf import csrf_exempt

from classroom.views.health import healthz

# What the pages show and have been sent; one server process, so a plain dictionary will do.
STATE: dict[str, Any] = {
    "revision": 1,
    "points": 3,
    "status": 0,
    "saved": [],
    "drawing": 0,
    "asked": 0,
    "always_new": False,
}


class EntryForm(forms.Form):
    """One of every kind of field that the pages use."""

    across = forms.IntegerField(
        label="Across the canopy",
        help_text="Start at the 0.",
        error_messages={"required": "Type how far it is across.", "invalid": "Type a number, like 14."},
        widget=forms.TextInput(attrs={"inputmode": "numeric", "unit": "in", "unit_name": "inches"}),
    )
    which = forms.ChoiceField(
        label="Which one falls slower?",
        choices=[("1", "Idea 1"), ("2", "Idea 2")],
        error_messages={"required": "Choose one of the two ideas."},
        widget=forms.RadioSelect,
    )
    why = forms.CharField(
        label="Why?",
        error_messages={"required": "Write a few words."},
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    sure = forms.BooleanField(label="We are sure", required=False)

    def clean(self) -> dict[str, Any]:
        if self.cleaned_data.get("across") == 13:
            raise forms.ValidationError("The two ideas are the same.")
        return self.cleaned_data


def figure() -> str:
    """Return a chart's figure as JSON; it changes with the number of points only."""
    points = list(range(STATE["points"]))
    marker = {"symbol": "circle-open", "size": 12, "color": "#0a4f8f"}
    trace = {"type": "scatter", "mode": "markers", "x": points, "y": points, "marker": marker}
    return json.dumps({"data": [trace], "layout": {"xaxis": {"title": {"text": "Canopy </script> & more"}}}})


def form_page(request: HttpRequest) -> HttpResponse:
    form = EntryForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        STATE["saved"].append({**form.cleaned_data, "button": request.POST.get("button", "")})
        return HttpResponse("saved")
    starters = ["When the canopy is wider, …", "We were surprised that …"]
    context = {"form": form, "starters": starters}
    return render(request, "look_form.html", context, status=422 if form.is_bound else 200)


def live(request: HttpRequest) -> HttpResponse:
    if "revision" in request.GET:
        STATE["asked"] += 1
        if STATE["status"]:
            return HttpResponse(status=STATE["status"])
        if STATE["always_new"]:
            STATE["revision"] += 1
        if request.GET["revision"] == str(STATE["revision"]):
            return HttpResponse(status=204)
    now = int(time.time() * 1000)
    context = {**STATE, "figure": figure(), "now": now, "ends_at": now + 62_000}
    return render(request, "_look_live.html" if "revision" in request.GET else "look_live.html", context)


def drawing(request: HttpRequest) -> HttpResponse:
    if request.method == "POST":
        sent = request.FILES.get("drawing")
        head = sent.read(8) if sent else b""
        STATE["drawing"] = {"name": sent.name, "png": head == b"\x89PNG\r\n\x1a\n"} if sent else None
        return HttpResponse("saved")
    return render(request, "look_drawing.html", {"labels": ["Canopy diameter", "Load"]})


@csrf_exempt
def state(request: HttpRequest) -> HttpResponse:
    """Show the state; POST changes it."""
    if request.method == "POST":
        STATE.update(json.loads(request.body))
    return JsonResponse(STATE)


urlpatterns = [
    path("healthz", healthz, name="healthz"),
    path("form", form_page),
    path("live", live),
    path("drawing", drawing),
    path("state", state),
]
