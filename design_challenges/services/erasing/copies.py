"""A copy of everything that is stored of a class or a child, as one zip, to keep before it is erased."""

from __future__ import annotations

import io
import json
import zipfile
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder

from classroom.models import Classroom, Student
from design_challenges.models import Measurement, Photo
from design_challenges.services.erasing.graph import hanging_on, rows_as_dicts
from design_challenges.services.exports import ExportError, class_files
from design_challenges.services.photos import photo_path

EVERYTHING = "everything.json"


def class_zip(classroom: Classroom) -> bytes:
    """Return a zip of a class: gradebook, tables, drawings, and every row that is stored."""
    try:
        files = dict(class_files(classroom))
    except ExportError:  # no challenge yet: the rows are all there is
        files = {}
    photos = Photo.objects.filter(iteration__class_challenge__classroom=classroom)
    for photo_id, source in photos.values_list("uuid", "source"):
        path = photo_path(photo_id, source)
        if path.exists():
            files[f"drawings/{path.name}"] = path.read_bytes()
    files[EVERYTHING] = _as_json(rows_as_dicts(hanging_on([classroom])))
    return _zipped(files)


def child_zip(student: Student) -> bytes:
    """Return a zip of a child: every row that is the child's own, and the sizes that it read."""
    told: dict[str, Any] = rows_as_dicts(hanging_on([student]))
    told["sizes read"] = list(
        Measurement.objects.filter(student=student).values(
            "iteration__number", "quantity", "spot", "typed", "unit", "made_at"
        )
    )
    return _zipped({EVERYTHING: _as_json(told)})


def _as_json(told: Any) -> bytes:
    return json.dumps(told, cls=DjangoJSONEncoder, ensure_ascii=False, indent=1).encode()


def _zipped(files: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as folder:
        for name, content in files.items():
            folder.writestr(name, content)
    return out.getvalue()
