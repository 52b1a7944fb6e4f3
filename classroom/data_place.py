"""Whether the data folder lies where a database file is safe: on the machine's own disk, not synced."""

from __future__ import annotations

import re
from pathlib import Path

# File systems over a network: their locks and their order of writing are not those a database file needs.
NETWORK = re.compile(
    r"^(nfs\d?|cifs|smb\w*|afpfs|9p|ncpfs|ceph|glusterfs|fuse\.(sshfs|rclone|s3fs|davfs.*))$"
)
# Programs that copy a folder elsewhere while it is being written name it so.
SYNCED = re.compile(
    r"^(onedrive|dropbox|google ?drive|my drive|icloud ?drive|mobile documents|nextcloud|owncloud)\b",
    re.IGNORECASE,
)
MOUNTS = Path("/proc/mounts")


def file_system(folder: Path, mounts: str) -> str:
    """Return the type of the file system a folder lies on, by the text of /proc/mounts; "" if unknown."""
    best, found = "", ""
    for line in mounts.splitlines():
        parts = line.split()
        if len(parts) < 3:
            continue
        place = parts[1].replace("\\040", " ")
        inside = place == "/" or folder == Path(place) or Path(place) in folder.parents
        if inside and len(place) >= len(best):
            best, found = place, parts[2]
    return found


def place_problem(folder: Path, mounts: str | None = None) -> str:
    """Return why a database file should not lie in this folder, "" where nothing is wrong with it."""
    folder = folder.resolve()
    synced = next((part for part in folder.parts if SYNCED.match(part)), "")
    if synced:
        return (
            f"{folder} lies in “{synced}”, which a program copies elsewhere while it is being written. "
            "That can tear a database apart. Set SECOND_BUILD_DATA to a folder that is not synced."
        )
    if str(folder).startswith("\\\\"):
        kind = "a network share"
    else:
        text = mounts if mounts is not None else MOUNTS.read_text("utf-8") if MOUNTS.exists() else ""
        kind = file_system(folder, text)
        if not NETWORK.match(kind):
            return ""
    return (
        f"{folder} lies on another machine ({kind}). A database file is safe on this machine's own disk "
        "only. Set SECOND_BUILD_DATA to a folder there, or use PostgreSQL (DATABASE_URL)."
    )
