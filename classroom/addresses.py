"""Where other machines reach this server, and whether that has changed since it was started last.

What waits on a tablet belongs to the address in its bar: under a new one the tablet does not find it again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from urllib.parse import urlsplit

from django.utils import timezone

from classroom.middleware import is_this_machine
from classroom.models import Installation

SHOWN_FOR = timedelta(days=14)


@dataclass(frozen=True)
class AddressChange:
    """That tablets reached the server under `before` and now do under `now`."""

    before: tuple[str, ...]
    now: tuple[str, ...]
    at: datetime


def note_addresses(addresses: Sequence[str]) -> AddressChange | None:
    """Keep the addresses of this start; return the change where one that tablets may use is gone.

    A start on this machine alone says nothing about where tablets will reach it, and changes nothing.
    """
    reachable = sorted({address for address in addresses if not _is_own(address)})
    if not reachable:
        return None
    installation = Installation.get()
    before = list(installation.addresses)
    if before == reachable:
        return None
    gone = [address for address in before if address not in reachable]
    installation.addresses = reachable
    fields = ["addresses"]
    if gone:
        installation.addresses_before = before
        installation.addresses_changed_at = timezone.now()
        fields += ["addresses_before", "addresses_changed_at"]
    installation.save(update_fields=fields)
    return _change(installation) if gone else None


def recent_change() -> AddressChange | None:
    """Return the last change of address, for as long as readings may wait under the old one."""
    since = timezone.now() - SHOWN_FOR
    installation = Installation.objects.filter(addresses_changed_at__gt=since).first()
    return None if installation is None else _change(installation)


def _change(installation: Installation) -> AddressChange:
    return AddressChange(
        tuple(installation.addresses_before),
        tuple(installation.addresses),
        installation.addresses_changed_at or timezone.now(),
    )


def _is_own(address: str) -> bool:
    return is_this_machine(urlsplit(address).hostname or "")
