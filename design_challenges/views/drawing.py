"""The labelled drawing on a team's tablet, and its picture for the team and its teachers."""

from __future__ import annotations

import uuid
from typing import Any

from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_http_methods, require_safe

from classroom.access import TeacherRequest, TeamRequest, teacher_of_class, team_tablet
from classroom.uploads import MOST_UPLOADED
from design_challenges.forms.drawing import DrawingForm
from design_challenges.models import Note, Photo
from design_challenges.services import photos, saving
from design_challenges.services.entries import Author
from design_challenges.services.made import is_measuring
from design_challenges.services.readiness import DRAWING_DONE
from design_challenges.steps import Step
from design_challenges.views.seats import Seat, save_from, team_step
from design_challenges.views.team_plan import plan_context


@team_step(Step.PLAN)
@require_http_methods(["GET", "HEAD", "POST"])
def team_drawing(request: TeamRequest, seat: Seat) -> HttpResponse:
    """Tick the drawing off, or keep a photo or a sketch of it."""
    if request.method != "POST":
        if is_measuring(seat.round):
            # Two children read the made thing apart: neither may see the plan's sizes.
            return redirect("design_challenges:team_plan", seat.round.number)
        return _show(request, seat, DrawingForm(initial={"how": Photo.Source.PHOTO}))
    form = DrawingForm(request.POST, request.FILES)
    if _is_too_large(request):
        form.full_clean()
        form.errors.clear()
        form.add_error("drawing", str(photos.TOO_LARGE))
    if not form.is_valid():
        return _show(request, seat, form, status=422)
    how, picture = form.cleaned_data["how"], form.picture
    photo_id = photos.write_picture(picture) if picture is not None else None

    def effect(author: Author) -> str:
        if picture is not None and photo_id is not None:
            photos.add_photo(seat.round.iteration, photo_id, picture, author)
        saving.save_note(seat.round.iteration, Note.Prompt.DRAWING, how, author)
        return reverse("design_challenges:team_now")

    body = {"how": how, "digest": picture.digest if picture is not None else ""}
    try:
        answer = save_from(request, seat, body, effect)
    except Exception:
        _take_back(photo_id, how)
        raise
    if answer.repeated:
        _take_back(photo_id, how)
    return redirect("design_challenges:team_now")


def _take_back(photo_id: uuid.UUID | None, source: str) -> None:
    """Remove a file that no row came to point to."""
    if photo_id is not None:
        photos.photo_path(photo_id, source).unlink(missing_ok=True)


def _is_too_large(request: TeamRequest) -> bool:
    try:
        return int(request.META.get("CONTENT_LENGTH") or 0) > MOST_UPLOADED
    except ValueError:
        return True


def _show(request: TeamRequest, seat: Seat, form: DrawingForm, *, status: int = 200) -> HttpResponse:
    note = seat.round.notes.get(Note.Prompt.DRAWING)
    context: dict[str, Any] = {
        "form": form,
        "how": note.text if note else "",
        "measuring": is_measuring(seat.round),
        "done": note is not None and note.text in DRAWING_DONE,
        # Each of the page's forms is an entry of its own.
        **{f"{name}_entry_id": uuid.uuid4() for name in ("photo", "sketch", "later")},
        **plan_context(seat),
    }
    return render(request, "team/drawing.html", seat.context(**context), status=status)


@team_tablet
@require_safe
@cache_control(private=True, max_age=3600)
def team_photo(request: TeamRequest, photo_id: uuid.UUID) -> HttpResponse | FileResponse:
    """Serve a picture to the team whose it is."""
    return _serve(Photo.objects.filter(uuid=photo_id, iteration__team=request.team).first())


@teacher_of_class(substitute=True)
@require_safe
@cache_control(private=True, max_age=3600)
def class_photo(request: TeacherRequest, photo_id: uuid.UUID) -> HttpResponse | FileResponse:
    """Serve a picture of a class to its teachers."""
    return _serve(Photo.objects.filter(uuid=photo_id, iteration__team__classroom=request.classroom).first())


def _serve(photo: Photo | None) -> FileResponse:
    """Return the file under a name and a type of our own; nothing of what was sent is passed on."""
    if photo is None:
        raise Http404
    path = photos.photo_path(photo.uuid, photo.source)
    if not path.is_file():
        raise Http404
    source = Photo.Source(photo.source)
    response = FileResponse(path.open("rb"), content_type=photos.TYPES[source])
    response.headers["Content-Disposition"] = f'inline; filename="drawing.{photos.ENDINGS[source]}"'
    response.headers["X-Content-Type-Options"] = "nosniff"
    return response
