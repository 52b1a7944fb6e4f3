"""How large an upload may be: what is larger is read past and thrown away, never stored."""

from __future__ import annotations

from typing import IO, Any

from django.core.files.uploadhandler import FileUploadHandler, StopUpload
from django.utils.datastructures import MultiValueDict

MOST_UPLOADED = 13_000_000


class CappedUpload(FileUploadHandler):
    """Stands before the handlers that store: a form over the cap keeps its fields and loses its file."""

    too_large = False

    def handle_raw_input(
        self,
        input_data: IO[bytes],
        META: dict[str, str],  # noqa: N803 (the framework's name)
        content_length: int,
        boundary: str,
        encoding: str | None = None,
    ) -> tuple[Any, MultiValueDict] | None:
        self.too_large = content_length > MOST_UPLOADED
        return None

    def receive_data_chunk(self, raw_data: bytes, start: int) -> bytes | None:
        if self.too_large:
            # The rest is still read, so that the browser gets our answer and not a broken line.
            raise StopUpload(connection_reset=False)
        return raw_data

    def file_complete(self, file_size: int) -> None:
        return None
