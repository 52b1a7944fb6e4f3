"""How the server writes its log: what went wrong and where, never what somebody typed."""

from __future__ import annotations

import logging
import traceback
from types import TracebackType

ExcInfo = tuple[type[BaseException], BaseException, TracebackType | None] | tuple[None, None, None]


class NamelessFormatter(logging.Formatter):
    """Write a traceback with the kind of each error but without its message.

    A database error quotes the row it refused and a conversion error quotes the text it was given; in a
    classroom both are children's names.
    """

    def formatException(self, ei: ExcInfo) -> str:  # noqa: N802 - the name is the library's
        """Return the frames of the chain of errors, innermost cause first, each ended by its class name."""
        chain: list[BaseException] = []
        error: BaseException | None = ei[1]
        while error is not None and error not in chain:
            chain.append(error)
            error = error.__cause__ or (None if error.__suppress_context__ else error.__context__)
        parts: list[str] = []
        for one in reversed(chain):
            parts.extend(line.rstrip("\n") for line in traceback.format_tb(one.__traceback__))
            parts.append(f"{type(one).__module__}.{type(one).__qualname__}")
        return "\n".join(parts)
