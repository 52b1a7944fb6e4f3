"""Pictures from tablets: read by what is in them, made small and plain, written safely."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from design_challenges.models import Photo
from design_challenges.services import photos
from design_challenges.services.photos import PhotoError, photo_path, read_picture, write_picture

ORIENTATION = 0x0112
RIGHT_TOP = 6
GPS = 0x8825


def picture(
    size: tuple[int, int] = (400, 300), *, kind: str = "JPEG", mode: str = "RGB", **options: Any
) -> BytesIO:
    """A picture file: its left half red, its right half blue."""
    image = Image.new(mode, size, "blue")
    image.paste("red", (0, 0, size[0] // 2, size[1]))
    file = BytesIO()
    image.save(file, format=kind, **options)
    file.seek(0)
    return file


def opened(content: bytes) -> Image.Image:
    return Image.open(BytesIO(content))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_photo_is_encoded_afresh_as_jpeg(kind: str) -> None:
    read = read_picture(picture(kind=kind), Photo.Source.PHOTO)

    assert opened(read.content).format == "JPEG"
    assert (read.width, read.height) == opened(read.content).size == (400, 300)


def test_a_sketch_stays_a_png() -> None:
    assert opened(read_picture(picture(kind="PNG"), Photo.Source.SKETCH).content).format == "PNG"


def test_a_photo_is_turned_upright_and_loses_its_metadata() -> None:
    exif = Image.Exif()
    exif[ORIENTATION] = RIGHT_TOP
    exif.get_ifd(GPS)[1] = "N"
    exif[0x010E] = "Made by a child's tablet"
    read = read_picture(picture((400, 300), exif=exif), Photo.Source.PHOTO)

    plain = opened(read.content)
    assert plain.size == (300, 400)
    red, _green, blue = plain.convert("RGB").getpixel((150, 20))
    assert red > 200
    assert blue < 60
    assert not plain.getexif()
    assert b"tablet" not in read.content


def test_metadata_of_a_png_is_gone_as_well() -> None:
    from PIL.PngImagePlugin import PngInfo

    info = PngInfo()
    info.add_text("Author", "somebody")
    read = read_picture(picture(kind="PNG", pnginfo=info), Photo.Source.SKETCH)

    assert b"somebody" not in read.content


def test_a_large_photo_is_made_small() -> None:
    read = read_picture(picture((6000, 4000)), Photo.Source.PHOTO)

    assert (read.width, read.height) == (1600, 1067)
    assert len(read.content) <= photos.MOST_KEPT_BYTES


@pytest.mark.parametrize("source", [Photo.Source.PHOTO, Photo.Source.SKETCH])
def test_a_noisy_picture_stays_under_the_cap_in_bytes(source: str) -> None:
    noise = Image.merge("RGB", [Image.effect_noise((1600, 1600), 120) for _colour in "RGB"])
    file = BytesIO()
    noise.save(file, format="PNG")
    file.seek(0)

    read = read_picture(file, source)
    assert len(read.content) <= photos.MOST_KEPT_BYTES
    assert opened(read.content).size == (read.width, read.height)


def test_transparent_paper_becomes_white() -> None:
    file = BytesIO()
    Image.new("RGBA", (10, 10), (0, 0, 0, 0)).save(file, format="PNG")
    file.seek(0)

    read = read_picture(file, Photo.Source.SKETCH)
    assert opened(read.content).convert("RGB").getpixel((5, 5)) == (255, 255, 255)


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"This is a text file.", "no_picture"),
        (b"", "no_picture"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "no_picture"),
        (b"GIF89a" + bytes(40), "no_picture"),
        (b"\xff\xd8\xff\xe0" + b"not really", "no_picture"),
    ],
)
def test_what_is_no_picture_is_refused_whatever_it_is_called(content: bytes, code: str) -> None:
    file = BytesIO(content)
    file.name = "holiday.jpg"

    with pytest.raises(PhotoError) as refused:
        read_picture(file, Photo.Source.PHOTO)
    assert refused.value.code == code


def test_a_picture_that_did_not_arrive_whole_is_refused() -> None:
    whole = picture((800, 600)).getvalue()

    with pytest.raises(PhotoError) as refused:
        read_picture(BytesIO(whole[: len(whole) // 2]), Photo.Source.PHOTO)
    assert refused.value.code == "broken"


def test_a_picture_of_too_many_pixels_is_refused_before_it_is_unpacked() -> None:
    file = BytesIO()
    Image.new("1", (10_000, 7_000)).save(file, format="PNG")
    file.seek(0)

    with pytest.raises(PhotoError) as refused:
        read_picture(file, Photo.Source.PHOTO)
    assert refused.value.code == "too_large"


def test_a_picture_is_written_whole_under_its_final_name(settings: Any, tmp_path: Path) -> None:
    settings.PHOTO_DIR = tmp_path / "photos"
    read = read_picture(picture(), Photo.Source.PHOTO)

    photo_id = write_picture(read)

    path = photo_path(photo_id, Photo.Source.PHOTO)
    assert path.read_bytes() == read.content
    assert [file.name for file in path.parent.iterdir()] == [f"{photo_id}.jpg"]
