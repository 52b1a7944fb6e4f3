"""What must be in order before the server opens: static files built, database up to date."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from pathlib import Path

from django.conf import settings
from django.contrib.sessions.models import Session
from django.contrib.staticfiles.finders import get_finders
from django.core.management import call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.utils import timezone

from classroom.static_config import ServedStaticFiles

STAMP = "built-from"


def _static_files() -> Iterator[tuple[str, Path]]:
    for finder in get_finders():
        for name, storage in finder.list(ServedStaticFiles.ignore_patterns):
            yield name, Path(storage.path(name))


def static_fingerprint() -> str:
    """Return a digest of every static file's name and content."""
    digest = hashlib.sha256(settings.STATIC_URL.encode())
    for name, path in sorted(_static_files()):
        digest.update(f"{name}\0{path.stat().st_size}\0".encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()


def build_static_files() -> bool:
    """Collect, hash and compress the static files where they changed; return whether it had to be done."""
    root = Path(settings.STATIC_ROOT)
    stamp = root / STAMP
    wanted = static_fingerprint()
    if stamp.exists() and stamp.read_text(encoding="ascii") == wanted:
        return False
    stamp.unlink(missing_ok=True)  # what is cut off here is done again
    # Files of an older version stay: a page that is open during an upgrade still asks for them.
    call_command("collectstatic", interactive=False, verbosity=0)
    stamp.write_text(wanted, encoding="ascii")
    return True


def migrate() -> bool:
    """Bring the database up to date; return whether there was anything to do."""
    executor = MigrationExecutor(connection)
    if not executor.migration_plan(executor.loader.graph.leaf_nodes()):
        return False
    call_command("migrate", interactive=False, verbosity=0)
    return True


def forget_old_sessions() -> None:
    """Delete the sessions that have run out."""
    old = Session.objects.filter(expire_date__lt=timezone.now())
    if old.exists():
        old.delete()
