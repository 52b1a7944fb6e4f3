"""A browser without a window: cookies, one kept connection, forms sent; it knows nothing of pages."""

from __future__ import annotations

import asyncio
import gzip
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from urllib.parse import urlencode, urlsplit

TIMEOUT_S = 60.0


@dataclass(frozen=True)
class Answer:
    """What the server said; `status` 0 where it said nothing. Times in s of `time.monotonic`."""

    method: str
    path: str
    status: int
    body: bytes
    headers: Mapping[str, str]
    began: float
    ended: float

    @property
    def text(self) -> str:
        packed = self.headers.get("content-encoding") == "gzip"
        return (gzip.decompress(self.body) if packed else self.body).decode("utf-8", "replace")

    @property
    def location(self) -> str:
        """The path that it sends the browser to, or ""."""
        to = self.headers.get("location") or self.headers.get("hx-redirect") or ""
        parts = urlsplit(to)
        return parts.path + (f"?{parts.query}" if parts.query else "")

    @property
    def seconds(self) -> float:
        return self.ended - self.began


@dataclass
class Browser:
    """One browser at one server; several share cookies by sharing the mapping."""

    base_url: str
    cookies: dict[str, str] = field(default_factory=dict)
    _streams: tuple[asyncio.StreamReader, asyncio.StreamWriter] | None = None
    _busy: asyncio.Lock = field(default_factory=asyncio.Lock)

    async def get(self, path: str, *, htmx: bool = False) -> Answer:
        """Ask for a page, or with `htmx` for the part of one."""
        return await self._ask("GET", path, b"", htmx)

    async def post(self, path: str, fields: Sequence[tuple[str, str]], *, htmx: bool = False) -> Answer:
        """Send a form."""
        return await self._ask("POST", path, urlencode(fields).encode(), htmx)

    def close(self) -> None:
        """Let go of the connection."""
        if self._streams is not None:
            self._streams[1].close()
            self._streams = None

    async def _ask(self, method: str, path: str, body: bytes, htmx: bool) -> Answer:
        async with self._busy:
            began = time.monotonic()
            try:
                async with asyncio.timeout(TIMEOUT_S):
                    status, headers, content = await self._exchange(method, path, body, htmx)
            except (OSError, EOFError, TimeoutError, ValueError):
                self.close()
                status, headers, content = 0, {}, b""
            return Answer(method, path, status, content, headers, began, time.monotonic())

    async def _exchange(
        self, method: str, path: str, body: bytes, htmx: bool
    ) -> tuple[int, dict[str, str], bytes]:
        kept = self._streams is not None
        try:
            return await self._send(method, path, body, htmx)
        except (OSError, EOFError):
            self.close()
            if not kept:
                raise
            # The server lets go of a connection that was quiet for a while, as it may: a browser asks again.
            return await self._send(method, path, body, htmx)

    async def _send(
        self, method: str, path: str, body: bytes, htmx: bool
    ) -> tuple[int, dict[str, str], bytes]:
        address = urlsplit(self.base_url)
        if self._streams is None:
            port = address.port or (443 if address.scheme == "https" else 80)
            self._streams = await asyncio.open_connection(
                address.hostname, port, ssl=address.scheme == "https" or None, limit=2**20
            )
        reader, writer = self._streams
        writer.write(self._head(method, path, address.netloc, body, htmx) + body)
        await writer.drain()
        return await self._read(reader)

    def _head(self, method: str, path: str, host: str, body: bytes, htmx: bool) -> bytes:
        lines = [f"{method} {path} HTTP/1.1", f"Host: {host}", "Accept-Encoding: gzip", "Accept: text/html"]
        if self.cookies:
            lines.append("Cookie: " + "; ".join(f"{name}={value}" for name, value in self.cookies.items()))
        if htmx:
            lines.append("HX-Request: true")
        if method == "POST":
            lines += [
                "Content-Type: application/x-www-form-urlencoded",
                f"Content-Length: {len(body)}",
                f"Origin: {self.base_url}",
                f"Referer: {self.base_url}{path}",
            ]
        return "\r\n".join([*lines, "", ""]).encode("ascii")

    async def _read(self, reader: asyncio.StreamReader) -> tuple[int, dict[str, str], bytes]:
        head = (await reader.readuntil(b"\r\n\r\n")).decode("latin-1")
        first, *lines = head.split("\r\n")
        headers: dict[str, str] = {}
        for line in lines:
            name, _colon, value = line.partition(":")
            if name.lower() == "set-cookie":
                self._keep_cookie(value.strip())
            elif name:
                headers[name.lower()] = value.strip()
        status = int(first.split()[1])
        content = b""
        if headers.get("transfer-encoding") == "chunked":
            while size := int(await reader.readline(), 16):
                content += await reader.readexactly(size)
                await reader.readline()
            await reader.readline()
        elif status not in (204, 304):
            content = await reader.readexactly(int(headers.get("content-length", "0")))
        if headers.get("connection", "").lower() == "close":
            self.close()
        return status, headers, content

    def _keep_cookie(self, text: str) -> None:
        pair, *more = text.split(";")
        name, _equals, value = pair.partition("=")
        if any(part.strip().lower() == "max-age=0" for part in more):
            self.cookies.pop(name, None)
        else:
            self.cookies[name] = value
