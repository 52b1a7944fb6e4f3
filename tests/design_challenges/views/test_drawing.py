"""The labelled drawing on a team's tablet, and who may see its picture."""

from __future__ import annotations

import uuid
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from classroom.models import Team
from design_challenges.models import ClassChallenge, Photo
from design_challenges.services.photos import photo_path
from tests.builders import make_challenge, make_class, plan_round, record_of, teacher_client
from tests.support.tablet import Tablet, at, hidden_fields, main_part, words

pytestmark = pytest.mark.django_db
DRAWING = "/team/1/plan/drawing/"


@pytest.fixture(autouse=True)
def photo_dir(settings: Any, tmp_path: Path) -> Path:
    settings.PHOTO_DIR = tmp_path / "photos"
    return settings.PHOTO_DIR


@pytest.fixture
def challenge() -> ClassChallenge:
    challenge = make_challenge(make_class(2), drawing_required=True)
    plan_round(challenge, challenge.classroom.teams.get(place=1))
    return challenge


@pytest.fixture
def team(challenge: ClassChallenge) -> Team:
    return challenge.classroom.teams.get(place=1)


@pytest.fixture
def tablet(team: Team) -> Tablet:
    return Tablet(team)


def upload(name: str = "drawing.jpg", kind: str = "JPEG", size: tuple[int, int] = (400, 300)) -> Any:
    file = BytesIO()
    Image.new("RGB", size, "white").save(file, format=kind)
    return SimpleUploadedFile(name, file.getvalue(), content_type="image/jpeg")


def test_it_says_what_to_label(tablet: Tablet) -> None:
    assert "canopy diameter, line length, the load" in words(tablet.get(DRAWING))


@pytest.mark.parametrize(("form", "how"), [(0, "paper"), (-1, "later")])
def test_it_is_ticked_off_or_left_for_later_by_one_tap(
    tablet: Tablet, challenge: ClassChallenge, team: Team, form: int, how: str
) -> None:
    page = tablet.fill(DRAWING, form=form)

    assert at(page) == "/team/1/ready/"
    assert record_of(challenge, team).notes["drawing"].text == how
    assert ("We are ready" in words(page)) is (how == "paper")


@pytest.mark.parametrize("how", ["photo", "sketch"])
def test_a_picture_is_kept_and_shown(tablet: Tablet, challenge: ClassChallenge, team: Team, how: str) -> None:
    page = tablet.post(DRAWING, how=how, drawing=upload())

    assert at(page) == "/team/1/ready/"
    photo = Photo.objects.get()
    assert photo.source == how
    assert photo_path(photo.uuid, how).stat().st_size == photo.size
    assert f'src="/team/pictures/{photo.uuid}/"' in main_part(tablet.get(DRAWING))
    assert record_of(challenge, team).photo == photo.uuid


def test_a_drawing_that_is_done_leads_on(tablet: Tablet) -> None:
    assert "Later: go on first" in words(tablet.get(DRAWING))
    tablet.post(DRAWING, how="photo", drawing=upload())

    page = words(tablet.get(DRAWING))

    assert "We have your drawing Go on" in page
    assert "Later: go on first" not in page


def test_a_photo_sent_twice_is_kept_once(tablet: Tablet, photo_dir: Path) -> None:
    fields = hidden_fields(tablet.get(DRAWING), form=1)

    tablet.post(DRAWING, **{**fields, "drawing": upload()})
    tablet.post(DRAWING, **{**fields, "drawing": upload()})

    assert Photo.objects.count() == 1
    assert len(list(photo_dir.iterdir())) == 1


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        (
            lambda: SimpleUploadedFile("drawing.jpg", b"Dear teacher, here is our drawing."),
            "This file is not a picture that we can read.",
        ),
        (lambda: SimpleUploadedFile("drawing.jpg", b""), "This file is empty."),
        (lambda: "", "Choose or take a photo first."),
        (
            lambda: SimpleUploadedFile("drawing.jpg", upload().read()[:2000]),
            "This picture did not arrive whole.",
        ),
    ],
)
def test_what_is_no_picture_is_said_beside_the_field_and_above(
    tablet: Tablet, photo_dir: Path, sent: Any, said: str
) -> None:
    page = tablet.post(DRAWING, how="photo", drawing=sent())

    assert page.status_code == 422
    assert words(page).count(said) == 2
    assert "data-error-summary" in main_part(page)
    assert not Photo.objects.exists()
    assert not photo_dir.exists()


@pytest.mark.parametrize("megabytes", [12.5, 30])
def test_a_picture_that_is_too_large_gets_our_message(tablet: Tablet, megabytes: float) -> None:
    huge = SimpleUploadedFile("drawing.jpg", b"\xff\xd8" + bytes(int(megabytes * 1_000_000)))

    page = tablet.post(DRAWING, how="photo", drawing=huge)

    assert page.status_code == 422
    assert words(page).count("This picture is too large to send.") == 2
    assert not Photo.objects.exists()


def test_a_body_over_the_cap_is_not_kept_on_the_way(tablet: Tablet, team: Team) -> None:
    from django.test import RequestFactory

    huge = SimpleUploadedFile("drawing.jpg", bytes(14_000_000))
    request = RequestFactory().post(DRAWING, {"how": "photo", "drawing": huge})

    assert request.POST["how"] == "photo"
    assert not request.FILES


def test_a_sketch_without_a_line_is_asked_for(tablet: Tablet) -> None:
    page = tablet.post(DRAWING, how="sketch")

    assert page.status_code == 422
    assert "There is no sketch yet." in words(page)


def test_only_the_ways_there_are_count(tablet: Tablet, challenge: ClassChallenge, team: Team) -> None:
    assert tablet.post(DRAWING, how="telepathy").status_code == 422
    assert "drawing" not in record_of(challenge, team).notes


# --- who may see it ---------------------------------------------------------------------------


@pytest.fixture
def photo(tablet: Tablet) -> Photo:
    tablet.post(DRAWING, how="photo", drawing=upload())
    return Photo.objects.get()


def test_its_own_team_sees_it_under_a_plain_name(tablet: Tablet, photo: Photo) -> None:
    response = tablet.client.get(f"/team/pictures/{photo.uuid}/")

    assert response.status_code == 200
    assert response.headers["Content-Type"] == "image/jpeg"
    assert response.headers["Content-Disposition"] == 'inline; filename="drawing.jpg"'
    assert response.headers["X-Content-Type-Options"] == "nosniff"
    assert "private" in response.headers["Cache-Control"]
    assert Image.open(BytesIO(b"".join(response))).format == "JPEG"


def test_another_team_does_not_see_it(challenge: ClassChallenge, photo: Photo) -> None:
    other = Tablet(challenge.classroom.teams.get(place=2))

    assert other.client.get(f"/team/pictures/{photo.uuid}/").status_code == 404


def test_nobody_sees_it_without_coming_in(client: Any, challenge: ClassChallenge, photo: Photo) -> None:
    code = challenge.classroom.code

    assert client.get(f"/team/pictures/{photo.uuid}/").headers["Location"].startswith("/join/")
    assert client.get(f"/classes/{code}/pictures/{photo.uuid}/").headers["Location"].startswith("/sign-in/")


def test_the_class_s_teacher_sees_it_and_another_does_not(challenge: ClassChallenge, photo: Photo) -> None:
    code = challenge.classroom.code
    elsewhere = make_class(1, name="Room 6")

    assert (
        teacher_client(challenge.classroom).get(f"/classes/{code}/pictures/{photo.uuid}/").status_code == 200
    )
    stranger = teacher_client(elsewhere)
    assert stranger.get(f"/classes/{code}/pictures/{photo.uuid}/").status_code == 404
    assert stranger.get(f"/classes/{elsewhere.code}/pictures/{photo.uuid}/").status_code == 404


def test_a_picture_that_is_not_there_is_not_found(tablet: Tablet, photo: Photo) -> None:
    assert tablet.client.get(f"/team/pictures/{uuid.uuid4()}/").status_code == 404
    photo_path(photo.uuid, photo.source).unlink()
    assert tablet.client.get(f"/team/pictures/{photo.uuid}/").status_code == 404
