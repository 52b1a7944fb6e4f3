"""Two classes of two teachers, each with one of everything, and a browser for every kind of visitor."""

from __future__ import annotations

from io import BytesIO
from typing import Any

from django.contrib.auth import get_user_model
from django.contrib.auth.tokens import default_token_generator
from django.test import Client
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode
from PIL import Image

from classroom.access import STATION_COOKIE, SUBSTITUTE_COOKIE, TEAM_COOKIE
from classroom.models import Classroom, Installation, Membership, Team
from design_challenges.models import HelpCall, Reading, ReferenceDrop, SawIt
from design_challenges.services import evidence, photos
from design_challenges.services.lessons import end_lesson, save_attendance, start_lesson
from design_challenges.services.marking import rubrics
from tests import builders
from tests.support import access, site, stages


class OneClass:
    """A class of two teams: the first has played both rounds, the second is in the middle of its plan."""

    def __init__(self, name: str, teacher_name: str) -> None:
        self.teacher = builders.make_teacher(teacher_name)
        self.classroom: Classroom = builders.make_class(2, teacher=self.teacher, name=name)
        self.challenge = builders.make_challenge(self.classroom, drawing_required=True)
        rubrics.start_usual(self.challenge, 5, None)
        stages.open_round(self.challenge, 2)
        self.team, self.other_team = self.classroom.teams.order_by("place")
        stages.play_to(self.challenge, self.team, "finished")
        stages.play_to(self.challenge, self.other_team, "idea-a")
        self.ids = self._things()

    def _things(self) -> dict[str, Any]:
        """Return one of everything that an address or a form can name."""
        student = self.team.members.order_by("pk").first().student
        lesson = start_lesson(self.classroom, self.teacher)
        save_attendance(lesson, {student.pk: False})
        reference = ReferenceDrop(class_challenge=self.challenge, lesson=lesson, hundredths=321)
        reference.save()
        end_lesson(lesson)
        start_lesson(self.classroom, self.teacher)
        question = evidence.ask(self.challenge, "area")
        builders.enter(
            self.challenge,
            lambda author: SawIt.objects.create(
                class_challenge=self.challenge, student=student, step="area", saw=True, **author.fields()
            ),
        )
        HelpCall.objects.create(class_challenge=self.challenge, team=self.other_team)
        card_token, card = site.make_card(self.classroom)
        station_token, station = site.make_station(self.classroom)
        invited = get_user_model().objects.create_user(f"colleague-{self.classroom.pk}")
        return {
            "code": self.classroom.code,
            "team": self.team.pk,
            "other_team": self.other_team.pk,
            "team_code": self.team.code,
            "student": student.pk,
            "drop": stages.some_drop(self.team),
            "reading": Reading.objects.filter(team=self.team).order_by("pk").first().pk,
            "reference": reference.pk,
            "photo": self._photo(self.team),
            "question": question.pk if question else "",
            "card": card.pk,
            "card_token": card_token,
            "station": station.pk,
            "station_token": station_token,
            "unplaced": site.leave_unplaced(self.team).pk,
            "colleague": Membership.objects.create(
                user=invited, classroom=self.classroom, role=Membership.Role.COLLEAGUE
            ).pk,
            "invited": urlsafe_base64_encode(force_bytes(invited.pk)),
            "invitation": default_token_generator.make_token(invited),
        }

    def _photo(self, team: Team) -> str:
        file = BytesIO()
        Image.new("RGB", (40, 30), "blue").save(file, format="PNG")
        file.seek(0)
        picture = photos.read_picture(file, "photo")
        photo_id = photos.write_picture(picture)
        iteration = team.iterations.get(number=1)
        builders.enter(self.challenge, lambda author: photos.add_photo(iteration, photo_id, picture, author))
        return str(photo_id)

    def tablet(self, team: Team) -> Client:
        """Return a browser that has joined the team."""
        client = Client()
        client.cookies[TEAM_COOKIE] = site.let_in(team)
        return client

    def substitute(self) -> Client:
        """Return a browser that came in by a substitute's card."""
        client = Client()
        client.cookies[SUBSTITUTE_COOKIE] = site.let_substitute_in(self.classroom)
        return client

    def station(self) -> Client:
        """Return a phone that is a timing station."""
        client = Client()
        client.cookies[STATION_COOKIE] = site.let_station_in(self.classroom)
        return client


class TwoClasses:
    """This class, another one, and everybody who may come to the door."""

    def __init__(self) -> None:
        Installation.get()  # a server that has started has it
        self.this = OneClass("Room 5", "this-teacher")
        self.other = OneClass("Room 6", "other-teacher")
        administrator = get_user_model().objects.create_superuser("administrator")
        # An account that may do everything Django knows and teaches nobody.
        self.visitors: dict[str, Client] = {
            access.NOBODY: Client(),
            access.TABLET: self.this.tablet(self.this.team),
            access.OTHER_TEAM: self.this.tablet(self.this.other_team),
            access.OTHER_CLASS: self.other.tablet(self.other.team),
            access.STRANGER: builders.teacher_client(self.other.classroom),
            access.TEACHER: builders.teacher_client(self.this.classroom),
            access.SUBSTITUTE: self.this.substitute(),
            access.OTHER_SUBSTITUTE: self.other.substitute(),
            access.STATION: self.this.station(),
            access.OTHER_STATION: self.other.station(),
            access.ADMINISTRATOR: Client(),
        }
        self.visitors[access.ADMINISTRATOR].force_login(administrator)
