"""uvicorn's HTTP protocol, which writes each response as one piece at the end of a turn of the event loop.

uvicorn itself writes the head and then the body. That takes two system calls, and the first wakes the
reader for half a response. Here the writes of one turn go out together, so requests that arrive
together are answered together. DEVELOPERS.md says what that saves.
"""

import asyncio
from typing import Any

from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol

# bytes: a longer response, such as a page, gains nothing from waiting and would only hold memory
_AT_ONCE = 64 * 1024


class _Gathering(asyncio.Transport):
    """A connection that collects what is written to it in one turn of the event loop."""

    def __init__(self, to: asyncio.Transport, loop: asyncio.AbstractEventLoop) -> None:
        super().__init__()
        self._to = to
        self._loop = loop
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

    def close(self) -> None:
        self.flush()
        self._to.close()

    def is_closing(self) -> bool:
        return self._to.is_closing()

    def get_extra_info(self, name: str, default: Any = None) -> Any:
        return self._to.get_extra_info(name, default)

    def pause_reading(self) -> None:
        self._to.pause_reading()

    def resume_reading(self) -> None:
        self._to.resume_reading()


class Protocol(HttpToolsProtocol):
    """One connection. It cannot serve WebSockets: they would replace the transport."""

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Collect what is written to a new connection."""
        self._gathering = _Gathering(transport, self.loop)
        super().connection_made(self._gathering)

    def eof_received(self) -> None:
        """Write the answers for a client that sends no more but still reads: the loop closes next."""
        self._gathering.flush()
        super().eof_received()
