"""uvicorn's HTTP protocol, made fit for a public address.

Three things differ. Each response is written as one piece at the end of a turn of the event loop: uvicorn
itself writes the head and then the body, which takes two system calls, and the first wakes the reader for
half a response. A client that keeps the server waiting is let go after a time: one sweep a second looks
at all connections, so a request needs no timer. And a request that breaks the rules of HTTP gets a
problem document with the status that the rules name. DEVELOPERS.md says what the first two save.
"""

import asyncio
import os
import re
from collections.abc import Callable, Mapping
from enum import Enum, auto
from functools import cache
from math import inf
from typing import Any
from weakref import WeakSet

import httptools
from uvicorn.protocols.http.httptools_impl import (
    STATUS_LINE,
    HttpToolsProtocol,
    RequestResponseCycle,
)
from uvicorn.server import ServerState

from percell.waits import waits_from
from percell.web.ask_pages.pages import PATH, too_long_page
from percell.web.call import TARGET_LIMIT
from percell.web.problems import Failed
from percell.web.resource import problem_response

# bytes: a longer response, such as a page, gains nothing from waiting and would only hold memory
_AT_ONCE = 64 * 1024
# bytes of a request's whole head; servers in front have limits such as this
HEAD_LIMIT = 32 * 1024
# bytes read in one turn of the event loop while requests of one connection wait for each other
_SLICE = HEAD_LIMIT
FIELDS_LIMIT = 100
SWEEP_S = 1.0
# how long a client may go on sending after its request was refused, so that it can read the answer
_LINGER_S = 2.0
_METHOD = re.compile(rb"[A-Za-z-]{1,20} ")


class Awaits(Enum):
    """What a connection waits for."""

    REQUEST = auto()  # the first byte of one
    HEAD = auto()  # the rest of a head
    BODY = auto()  # the rest of a body
    ANSWER = auto()  # the application
    READER = auto()  # the client takes what was written
    END = auto()  # the client closes, after its request was refused


@cache
def _longest_s() -> Mapping[Awaits, float]:
    waits = waits_from(os.environ)
    return {
        Awaits.REQUEST: waits.idle_s,
        Awaits.HEAD: waits.head_s,
        Awaits.BODY: waits.body_s,
        Awaits.ANSWER: inf,
        Awaits.READER: waits.body_s,
        Awaits.END: _LINGER_S,
    }


# by these names, because Python 3.11 looks up the member of an enumeration slowly
_HEAD, _BODY, _ANSWER = Awaits.HEAD, Awaits.BODY, Awaits.ANSWER
# the servers whose connections a sweep looks at
_swept: WeakSet[ServerState] = WeakSet()


class _Gathering(asyncio.Transport):
    """A connection that collects what is written to it in one turn of the event loop."""

    def __init__(
        self,
        to: asyncio.Transport,
        loop: asyncio.AbstractEventLoop,
        lingers: Callable[[], bool] = lambda: False,
    ) -> None:
        """Collect for a transport.

        Args:
            to: The transport.
            loop: Its event loop.
            lingers: Asked before it is closed. If true, only the server's half is, and somebody else
                will close the other.
        """
        super().__init__()
        self._to = to
        self._loop = loop
        self._lingers = lingers
        self._parts: list[Any] = []

    def write(self, data: Any) -> None:
        if not self._parts:
            self._loop.call_soon(self.flush)
        self._parts.append(data)
        if len(data) > _AT_ONCE:
            self.flush()

    def flush(self) -> None:
        """Write what was collected, unless the connection has broken meanwhile."""
        parts, self._parts = self._parts, []
        if parts and not self._to.is_closing():
            self._to.writelines(parts)

    def write_eof(self) -> None:
        self.flush()
        if not self._to.is_closing():
            self._to.write_eof()

    def close(self) -> None:
        if self._lingers():
            self.write_eof()
        else:
            self.flush()
            self._to.close()

    def abort(self) -> None:
        self._to.abort()

    def is_closing(self) -> bool:
        return self._to.is_closing()

    def get_write_buffer_size(self) -> int:
        return self._to.get_write_buffer_size()

    def get_extra_info(self, name: str, default: Any = None) -> Any:
        return self._to.get_extra_info(name, default)

    def pause_reading(self) -> None:
        self._to.pause_reading()

    def resume_reading(self) -> None:
        self._to.resume_reading()


class Protocol(HttpToolsProtocol):
    """One connection. It cannot serve WebSockets: they would replace the transport."""

    _longest_s: Mapping[Awaits, float]

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override] # uvicorn types it so
        """Collect what is written to a new connection, and watch it."""
        self._longest_s = _longest_s()
        self._gathering = _Gathering(transport, self.loop, self._lingers)
        self._awaits = Awaits.REQUEST
        self._requests = 0
        self._head_size = 0
        self._long = False
        self._refusal: bytes | None = None
        self._held = b""  # what is read when no request waits for another's answer any more
        self._ended = False
        self._seen: tuple[Any, ...] = ()
        self._since = 0.0
        if self.server_state not in _swept:
            _swept.add(self.server_state)
            self.loop.call_later(SWEEP_S, _sweep, self.server_state, self.loop)
        super().connection_made(self._gathering)

    def eof_received(self) -> bool:  # type: ignore[override] # asyncio reads it
        """Let a client that sends no more but still reads have its answers; then the connection ends."""
        self._gathering.flush()
        self._ended = True
        if self._held:
            return True
        if self._awaits is not _ANSWER or not _runs(self.cycle):
            return False  # the loop closes next
        self.cycle.keep_alive = False
        return True

    # what a client sends

    def data_received(self, data: bytes) -> None:
        """Read requests. What follows a refused one is not read.

        Thousands of small requests fit into what arrives at once. While one waits for the answer to
        another, the rest is held back: to read it all would keep other connections waiting.
        """
        if self._held:
            self._held += data
            self.flow.pause_reading()
            return
        for start in range(0, len(data), _SLICE):
            if start and self.pipeline and self._refusal is None:
                self._held = data[start:]
                self.flow.pause_reading()
                return
            self._read(data[start : start + _SLICE])

    def _read(self, data: bytes) -> None:
        if self._refusal is not None:
            return
        before = self._requests
        self._long = len(data) > TARGET_LIMIT or (self._long and self._awaits is _HEAD)
        try:
            self.parser.feed_data(data)
        except httptools.HttpParserUpgrade as offered:
            self._stay(data[offered.args[0] :])
        except httptools.HttpParserError as error:
            self._refuse(_failure(error, data))
        else:
            if self._awaits is _HEAD:  # it may grow without end
                if self._requests == before:
                    self._head_size += len(data)
                if self._head_size > HEAD_LIMIT or len(self.url) > TARGET_LIMIT:
                    self._refuse(_too_large(self.url))

    def on_message_begin(self) -> None:
        """Begin a request."""
        self._awaits = _HEAD
        self._requests += 1
        self._head_size = 0
        super().on_message_begin()

    def on_header(self, name: bytes, value: bytes) -> None:
        """Read a header. A field that follows a body means nothing here, and is not kept."""
        if self._awaits is _HEAD:
            super().on_header(name, value)

    def on_headers_complete(self) -> None:
        """Begin to answer, unless the head breaks a rule."""
        _refuse_bad_head(self.parser, self.url, self.headers, sized=self._long)
        super().on_headers_complete()
        self._awaits = _BODY

    def on_message_complete(self) -> None:
        """The request has arrived, unless the parser leaves its body to another protocol."""
        if self.parser.should_upgrade():
            return
        self._awaits = _ANSWER
        super().on_message_complete()

    def on_response_complete(self) -> None:
        """Go on with the next request. Unlike uvicorn, start no timer for a connection without one."""
        self.server_state.total_requests += 1
        if self.transport.is_closing():
            return
        if self.pipeline:
            if not self._held:
                self.flow.resume_reading()
            cycle, app = self.pipeline.pop()
            self._start_asgi_task(cycle, app)
            if self._held and not self.pipeline:
                self._read_on()
        elif self._refusal is not None:
            if self._awaits is not Awaits.END:
                self._send_refusal()
        else:
            self.flow.resume_reading()

    def _read_on(self) -> None:
        """Read what was held back."""
        held, self._held = self._held, b""
        self.data_received(held)
        if self._ended and not self._held:
            self.cycle.keep_alive = False  # the client sends no more

    def _stay(self, rest: bytes) -> None:
        """Answer a request that offers another protocol in this one, and then end the connection.

        The parser takes all that follows such a head for the other protocol. Another parser reads the
        body from it.
        """
        self.cycle.keep_alive = False
        framing = [
            b"%b: %b\r\n" % one
            for one in self.headers
            if one[0] in (b"content-length", b"transfer-encoding")
        ]
        self.parser = httptools.HttpRequestParser(_Body(self))
        self.parser.feed_data(b"".join([b"POST / HTTP/1.1\r\n", *framing, b"\r\n"]))
        if self._awaits is _BODY:
            self.data_received(rest)

    # what ends a connection

    def _refuse(self, failure: Failed) -> None:
        """Answer with a problem, after the requests that came before, and end the connection."""
        broken = self.cycle if self._awaits is _BODY else None
        if broken and broken.response_started:
            self.transport.close()  # it was answered before it was all read
            return
        self._refusal = self._as_bytes(failure)
        self._awaits = _ANSWER
        queued = [one for one in self.pipeline if one[0] is broken]
        for one in queued:
            self.pipeline.remove(one)
        if broken and not queued:
            _forget(broken)
        before = self.pipeline or queued or (self.cycle is not broken and _runs(self.cycle))
        if not before:
            self._send_refusal()

    def _lingers(self) -> bool:
        """Whether the client still sends a body that was answered before it was all read.

        To close at once would reset the connection, and lose the answer.
        """
        if self._awaits is _BODY and not _runs(self.cycle):
            self._refusal = b""
            self._awaits = Awaits.END
        return self._awaits is Awaits.END

    def _send_refusal(self) -> None:
        self.transport.write(self._refusal or b"")
        # to close at once would reset the connection while the client still sends, and lose the answer
        self._gathering.write_eof()
        self._awaits = Awaits.END

    def _as_bytes(self, failure: Failed) -> bytes:
        given = next((v for name, v in self.headers or () if name == b"x-request-id"), None)
        # a reader who typed too much into a form of these pages reads a page
        is_typed = failure.kind == "target-too-long" and self.url.startswith(PATH.encode())
        named, body = too_long_page(given) if is_typed else problem_response(failure, given)
        headers = (*self.server_state.default_headers, *named, (b"connection", b"close"))
        lines = [b"%b: %b\r\n" % one for one in headers]
        shown = b"" if self.parser.get_method() == b"HEAD" else body
        return b"".join([STATUS_LINE[failure.status], *lines, b"\r\n", shown])

    def end_if_overdue(self, now: float) -> None:
        """End the connection if its client has kept the server waiting for too long."""
        seen = self._state()
        if seen != self._seen:
            self._seen, self._since = seen, now
            return
        waited_s = now - self._since
        awaits = seen[0]
        if waited_s < self._longest_s[awaits]:
            return
        if awaits is _HEAD or awaits is _BODY:
            part = awaits.name.lower()
            self._refuse(Failed("request-timeout", f"The {part} of the request took too long."))
        else:
            self._gathering.abort()

    def _state(self) -> tuple[Any, ...]:
        """Return what the connection waits for. It changes whenever something has come of that."""
        if left := self._gathering.get_write_buffer_size():
            return Awaits.READER, left
        if self._awaits is _ANSWER and not _runs(self.cycle):
            return Awaits.REQUEST, self._requests
        return self._awaits, self._requests


class _Body:
    """Takes a body from a parser that has no head to tell."""

    def __init__(self, of: Protocol) -> None:
        self._of = of
        self._all = False

    def on_body(self, body: bytes) -> None:
        if not self._all:
            self._of.on_body(body)

    def on_message_complete(self) -> None:
        if not self._all:
            self._all = True
            self._of.on_message_complete()


def _sweep(server: ServerState, loop: asyncio.AbstractEventLoop) -> None:
    now = loop.time()
    for connection in [*server.connections]:
        connection.end_if_overdue(now)  # type: ignore[union-attr] # all are ours
    if server.connections:
        loop.call_later(SWEEP_S, _sweep, server, loop)
    else:  # the next connection begins again
        _swept.discard(server)


def _runs(cycle: RequestResponseCycle | None) -> bool:
    return cycle is not None and not cycle.response_complete


def _forget(cycle: RequestResponseCycle) -> None:
    """Tell the application that the client is gone, and drop what it still answers."""
    cycle.disconnected = True
    cycle.message_event.set()


def _refuse_bad_head(
    parser: Any, url: bytes, headers: list[tuple[bytes, bytes]], *, sized: bool
) -> None:
    """Refuse a head that the parser lets through (RFC 9112 sections 2.3, 3.2 and 6.1).

    Raises:
        Failed: The head breaks a rule.
    """
    if len(url) > TARGET_LIMIT or len(headers) > FIELDS_LIMIT:
        raise _too_large(url)
    if sized and len(url) + sum(len(name) + len(value) + 4 for name, value in headers) > HEAD_LIMIT:
        raise _too_large(url)
    version = parser.get_http_version()
    if version not in ("1.1", "1.0"):
        raise Failed("version-not-supported", f"Use HTTP/1.1 or 1.0, not {version}.")
    names = [name for name, _ in headers]
    if names.count(b"host") != 1 and (version == "1.1" or b"host" in names):
        raise Failed("malformed-request", "Send exactly one Host header.")
    if b"transfer-encoding" in names:
        coding = b",".join(v for name, v in headers if name == b"transfer-encoding").strip().lower()
        if coding != b"chunked":
            raise Failed("not-implemented", "Use chunked. No other transfer coding is supported.")
    if parser.get_method() == b"CONNECT":
        raise Failed("not-implemented", "This server is not a proxy and does not support CONNECT.")


def _too_large(url: bytes) -> Failed:
    if len(url) > TARGET_LIMIT:
        return Failed(
            "target-too-long",
            f"Path and query can have at most {TARGET_LIMIT} bytes. A body can be longer.",
        )
    return Failed(
        "head-too-large", f"Send at most {HEAD_LIMIT} bytes and {FIELDS_LIMIT} fields in the head."
    )


def _failure(error: Exception, data: bytes) -> Failed:
    """Return what is wrong with a request that the parser refuses."""
    if isinstance(error.__context__, Failed):
        return error.__context__
    if isinstance(error, httptools.HttpParserInvalidMethodError) and _METHOD.match(data):
        return Failed("not-implemented", "There is no such method. Methods are in capital letters.")
    if "version" in str(error) or "Upgrade" in str(error):
        return Failed("version-not-supported", "Use HTTP/1.1 or 1.0.")
    return Failed("malformed-request", f"The request is not valid HTTP: {_reason(error)}.")


def _reason(error: Exception) -> str:
    if isinstance(error, httptools.HttpParserCallbackError | httptools.HttpParserInvalidURLError):
        return "start the path with a slash, and percent-encode characters that are not ASCII"
    return str(error)
