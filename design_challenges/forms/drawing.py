"""The form of the labelled drawing: on paper, photographed, sketched, or later."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext_lazy as _

from design_challenges.models import Photo
from design_challenges.services.photos import MOST_BYTES, TOO_LARGE, PhotoError, Picture, read_picture

PAPER, LATER = "paper", "later"
HOWS = [(how, how) for how in (PAPER, Photo.Source.PHOTO.value, Photo.Source.SKETCH.value, LATER)]


class DrawingForm(forms.Form):
    """How the drawing is done; a photo or a sketch brings its picture, which is read here."""

    use_required_attribute = False

    how = forms.ChoiceField(choices=HOWS, widget=forms.HiddenInput)
    drawing = forms.FileField(
        label=_("Photo of your drawing"),
        required=False,
        error_messages={
            "empty": _("This file is empty. Take the photo again."),
            "invalid": _("No picture arrived. Take the photo again."),
        },
        widget=forms.FileInput(
            attrs={
                "accept": "image/jpeg,image/png,image/webp",
                "capture": "environment",
                "quiet_optional": True,
            }
        ),
    )

    picture: Picture | None = None

    def clean(self) -> dict[str, Any]:
        how, file = self.cleaned_data.get("how"), self.cleaned_data.get("drawing")
        if how not in Photo.Source.values or "drawing" in self.errors:
            return self.cleaned_data
        if file is None:
            self.add_error("drawing", self.nothing_sent(str(how)))
            return self.cleaned_data
        self._read(file, str(how))
        return self.cleaned_data

    @staticmethod
    def nothing_sent(how: str) -> Any:
        """Return what is said when no picture came."""
        if how == Photo.Source.SKETCH:
            return _("There is no sketch yet. Draw on the white sheet first.")
        return _("Choose or take a photo first.")

    def _read(self, file: UploadedFile, how: str) -> None:
        if file.size is None or file.size > MOST_BYTES:
            self.add_error("drawing", str(TOO_LARGE))
            return
        try:
            self.picture = read_picture(file, how)
        except PhotoError as error:
            self.add_error("drawing", str(error.message))
