"""What a tablet's outbox says about an entry before any page has read it: its id, its whole, who typed it."""

from __future__ import annotations

import hashlib
import json
import uuid
from dataclasses import dataclass, field

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest

# Not part of what was typed: made afresh for each sending.
_ENVELOPE = ("csrfmiddlewaretoken",)


@dataclass
class EntryHead:
    """One entry as it arrived.

    digest   of every field and file, so that the same id with another body is found out
    sender   for whom it was typed ("team-12"), "" where the page did not say
    foreign  it was typed into a page of another installation
    stopped  why the page did not take it: "", "other", "foreign", "paused", "closed", "earlier", "gone"
    """

    entry_id: uuid.UUID
    digest: str
    sender: str = ""
    foreign: bool = False
    stopped: str = field(default="", init=False)

    def may_enter(self, sender: str) -> bool:
        """Say whether a page of `sender` may take it; note why not."""
        if self.foreign:
            self.stopped = "foreign"
        elif self.sender not in ("", sender):
            self.stopped = "other"
        return not self.stopped


def head_of(request: HttpRequest) -> EntryHead | None:
    """Return the entry that a page is about to take, None for a plain form."""
    found: EntryHead | None = getattr(request, "entry", None)
    return found


def read_head(request: HttpRequest, *, foreign: bool) -> EntryHead | None:
    """Read the head of an entry; None where its id cannot be read."""
    try:
        entry_id = uuid.UUID(request.POST.get("entry_id", ""))
    except ValueError:
        return None
    return EntryHead(entry_id, digest_of(request), request.POST.get("sender", ""), foreign)


def digest_of(request: HttpRequest) -> str:
    """Return the digest of all that was sent, the same for the same fields and files in any order."""
    fields = {name: values for name, values in request.POST.lists() if name not in _ENVELOPE}
    files = {name: [_file_digest(file) for file in found] for name, found in request.FILES.lists()}
    whole = json.dumps([fields, files], sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(whole.encode()).hexdigest()


def _file_digest(file: UploadedFile) -> str:
    digest = hashlib.sha256()
    for chunk in file.chunks():
        digest.update(chunk)
    file.seek(0)
    return digest.hexdigest()
