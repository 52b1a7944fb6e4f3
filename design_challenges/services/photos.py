"""Pictures from tablets: checked by what is in them, made small and plain, written safely, found again.

A picture is a file under `settings.PHOTO_DIR`, named by its row's uuid. It is written, synced and renamed
before the row is made, and never changed after.
"""

from __future__ import annotations

import hashlib
import os
import uuid
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

from django.conf import settings
from django.utils.translation import gettext_lazy as _

from design_challenges.models import DesignIteration, Photo

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise
    from PIL import Image

    from design_challenges.services.entries import Author

MOST_BYTES = 12_000_000
"""A larger upload is refused unread."""

LONG_SIDE = 1600
MOST_PIXELS = 60_000_000
MOST_KEPT_BYTES = 1_500_000
READ_FORMATS = ("JPEG", "PNG", "WEBP")
QUALITIES = (85, 70, 55)
ENDINGS = {Photo.Source.PHOTO: "jpg", Photo.Source.SKETCH: "png"}
TYPES = {Photo.Source.PHOTO: "image/jpeg", Photo.Source.SKETCH: "image/png"}

TOO_LARGE = _("This picture is too large to send. Set the camera to a smaller size and take it again.")
NO_PICTURE = _("This file is not a picture that we can read. Take a photo with the tablet’s camera.")
BROKEN = _("This picture did not arrive whole. Send it once more.")


class PhotoError(ValueError):
    """A picture cannot be used; `message` says how to go on."""

    def __init__(self, code: str, message: StrOrPromise) -> None:
        super().__init__(code)
        self.code = code
        self.message = message


@dataclass(frozen=True)
class Picture:
    """A picture made small and plain: its bytes as they will be stored, and its size in pixels."""

    content: bytes
    width: int
    height: int
    source: str

    @property
    def digest(self) -> str:
        return hashlib.sha256(self.content).hexdigest()


def read_picture(file: IO[bytes], source: str) -> Picture:
    """Return a picture upright, at most 1600 px on its long side, encoded afresh without its metadata.

    Raises PhotoError for what is no JPEG, PNG or WebP picture, whatever it is called, for one that is cut
    off, and for one of more than 60 million pixels.
    """
    # A slow import that most starts of the server have no use for.
    from PIL import Image, ImageOps

    try:
        image: Image.Image = Image.open(file, formats=READ_FORMATS)
    except Image.DecompressionBombError:
        raise PhotoError("too_large", TOO_LARGE) from None
    except (OSError, SyntaxError, ValueError):
        raise PhotoError("no_picture", NO_PICTURE) from None
    if image.width * image.height > MOST_PIXELS:
        raise PhotoError("too_large", TOO_LARGE)
    try:
        # A JPEG can be decoded at a fraction of its size at once, which spares a small computer.
        image.draft("RGB", (LONG_SIDE, LONG_SIDE))
        upright = ImageOps.exif_transpose(image)
        upright.thumbnail((LONG_SIDE, LONG_SIDE))
        plain = _on_white(upright)
    except (OSError, SyntaxError, ValueError, Image.DecompressionBombError):
        raise PhotoError("broken", BROKEN) from None
    content = _encode(plain, source)
    while len(content) > MOST_KEPT_BYTES:  # a picture of noise: no drawing
        plain.thumbnail((plain.width // 2, plain.height // 2))
        content = _encode(plain, source)
    return Picture(content, plain.width, plain.height, source)


def _on_white(image: Image.Image) -> Image.Image:
    """Return the pixels alone, transparent ones on white: no metadata, no palette."""
    from PIL import Image

    solid = image.convert("RGBA")
    ground = Image.new("RGB", image.size, "white")
    ground.paste(solid, mask=solid.getchannel("A"))
    return ground


def _encode(image: Image.Image, source: str) -> bytes:
    if source == Photo.Source.SKETCH:
        return _bytes(image, format="PNG", optimize=True)
    content = b""
    for quality in QUALITIES:
        content = _bytes(image, format="JPEG", quality=quality, optimize=True)
        if len(content) <= MOST_KEPT_BYTES:
            break
    return content


def _bytes(image: Image.Image, **options: Any) -> bytes:
    buffer = BytesIO()
    image.save(buffer, **options)
    return buffer.getvalue()


def photo_path(photo_id: uuid.UUID, source: str) -> Path:
    """Return where the file of a picture is."""
    return Path(settings.PHOTO_DIR) / f"{photo_id}.{ENDINGS[Photo.Source(source)]}"


def write_picture(picture: Picture) -> uuid.UUID:
    """Write a picture's file, synced to the disk under its final name, and return its uuid."""
    photo_id = uuid.uuid4()
    path = photo_path(photo_id, picture.source)
    path.parent.mkdir(parents=True, exist_ok=True)
    unfinished = path.with_suffix(".part")
    with unfinished.open("wb") as file:
        file.write(picture.content)
        file.flush()
        os.fsync(file.fileno())
    unfinished.replace(path)
    _sync_folder(path.parent)
    return photo_id


def _sync_folder(folder: Path) -> None:
    """Make the new name last through a power cut, where the system can."""
    if not hasattr(os, "O_DIRECTORY"):
        return
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def add_photo(iteration: DesignIteration, photo_id: uuid.UUID, picture: Picture, author: Author) -> Photo:
    """Add the row of a picture whose file is written."""
    return Photo.objects.create(
        uuid=photo_id,
        iteration=iteration,
        source=picture.source,
        digest=picture.digest,
        size=len(picture.content),
        width=picture.width,
        height=picture.height,
        **author.fields(),
    )
