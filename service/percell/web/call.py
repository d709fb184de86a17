"""One request, as a resource sees it."""

import os
import re
from collections.abc import AsyncIterator, Iterable
from itertools import count
from typing import Any

from litestar.types import Receive

from percell.web.problems import Failed

_LIMIT = os.environ.get("PERCELL_BODY_LIMIT_BYTES") or f"{1024 * 1024}"
if not re.fullmatch("[1-9][0-9]{0,11}", _LIMIT):
    raise SystemExit(
        f"Error: PERCELL_BODY_LIMIT_BYTES is {_LIMIT!r}: give a number of bytes, such as 1048576"
    )
BODY_LIMIT = int(_LIMIT)
# bytes of path and query; servers in front have limits such as this
TARGET_LIMIT = 16 * 1024

_request_ids = count(1)
_process = os.urandom(4).hex()
_REQUEST_ID = re.compile(rb"[A-Za-z0-9._-]{1,64}")


def request_id(given: bytes | None) -> str:
    """Return the id under which a request is answered and logged: the client's own, or a new one."""
    if given and _REQUEST_ID.fullmatch(given):
        return given.decode()
    return f"{_process}-{next(_request_ids):x}"


class ClientGone(Exception):
    """The client left before its body had arrived: there is nobody to answer."""


def _combined(lines: Iterable[tuple[bytes, bytes]]) -> dict[bytes, bytes]:
    """Return headers of which some come in several lines: they are one list (RFC 9110 section 5.3)."""
    found: dict[bytes, bytes] = {}
    for name, value in lines:
        found[name] = b"%b, %b" % (found[name], value) if name in found else value
    return found


class Call:
    """A request: its query, its headers, its id, and its body, which has a limit."""

    __slots__ = ("_more", "_size", "headers", "id", "limit", "query", "receive")

    def __init__(self, scope: Any, receive: Receive, limit: int) -> None:
        self.query: bytes = scope["query_string"]
        self.headers = dict(scope["headers"])
        if len(self.headers) != len(scope["headers"]):
            self.headers = _combined(scope["headers"])
        self.id = request_id(self.headers.get(b"x-request-id"))
        self.receive = receive
        self.limit = limit
        self._size, self._more = 0, True

    async def parts(self) -> AsyncIterator[bytes]:
        """Yield the body as it arrives. Refuse a body that is too large before it has all arrived."""
        self._refuse_announced()
        while self._more:
            yield self._part_of(await self.receive())

    async def body(self) -> bytes:
        """Read the whole body."""
        self._refuse_announced()
        first = self._part_of(await self.receive())
        if not self._more:  # nearly every body arrives in one piece
            return first
        return b"".join([first, *[part async for part in self.parts()]])

    def _part_of(self, message: Any) -> bytes:
        if message["type"] == "http.disconnect":
            raise ClientGone
        part: bytes = message.get("body", b"")
        self._size += len(part)
        if self._size > self.limit:
            raise self._too_large()
        self._more = message.get("more_body", False)
        return part

    def _refuse_announced(self) -> None:
        announced = self.headers.get(b"content-length", b"")
        if announced.isdigit() and int(announced) > self.limit:
            raise self._too_large()

    def _too_large(self) -> Failed:
        return Failed(
            "content-too-large", f"The body is too large. The limit is {self.limit} bytes."
        )
