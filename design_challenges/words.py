"""The type of a text that a person reads: translated already, or only when it is shown."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.utils.functional import Promise

if TYPE_CHECKING:
    from django.utils.functional import _StrPromise

    # The stubs know what a promise of a text can do; at run time it is a Promise.
    Words = str | _StrPromise
else:
    Words = str | Promise
