"""The server as users run it, over loopback: responses arrive whole and in order."""

import asyncio
import json
import socket
from collections.abc import Callable, Iterator
from typing import Any

import pytest
import uvicorn
from litestar.types import Receive, Scope, Send

from percell.protocol import Protocol
from percell.questions.registry import QUESTIONS
from percell.serve import SETTINGS
from percell.web.app import create_app

LONG = b"x" * 1_000_000
ANY = QUESTIONS["converter-load"]
BODY = json.dumps(ANY.example).encode()
HEALTH = b"GET /healthz HTTP/1.1\r\nHost: here\r\n\r\n"
ASK = b"POST /v1/%b HTTP/1.1\r\nHost: here\r\nContent-Type: application/json\r\n%bContent-Length: %d\r\n\r\n%b"


@pytest.fixture(scope="module")
def connect(serving: Any) -> Iterator[Callable[[], socket.socket]]:
    """Return a function that connects to a running server, which also has a page longer than any buffer."""
    app = create_app()

    async def with_page(scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http" and scope["path"] == "/long":
            headers = [(b"content-length", b"%d" % len(LONG))]
            await send({"type": "http.response.start", "status": 200, "headers": headers})
            await send({"type": "http.response.body", "body": LONG, "more_body": False})
        else:
            await app(scope, receive, send)  # type: ignore[arg-type]

    with serving(with_page, **SETTINGS) as address:
        yield lambda: socket.create_connection(address, timeout=10)


def responses(connection: socket.socket, count: int) -> list[tuple[bytes, bytes]]:
    """Read that many responses: head and body."""
    held, found = b"", []
    for _ in range(count):
        while b"\r\n\r\n" not in held:
            held += received(connection)
        head, _, held = held.partition(b"\r\n\r\n")
        lengths = [h for h in head.lower().split(b"\r\n") if h.startswith(b"content-length: ")]
        size = int(lengths[0].rpartition(b" ")[2])
        while len(held) < size:
            held += received(connection)
        found.append((head, held[:size]))
        held = held[size:]
    assert held == b""
    return found


def received(connection: socket.socket) -> bytes:
    """Read what has arrived; the connection must not end before the response."""
    got = connection.recv(1_000_000)
    assert got
    return got


def question(extra: bytes = b"") -> bytes:
    """Return a request that asks a question."""
    return ASK % (ANY.id.encode(), extra, len(BODY), BODY)


def test_requests_sent_together_are_answered_in_order(connect: Any) -> None:
    """Pipelined requests are answered in their order, also if some are long and one fails."""
    sent = [HEALTH, question(), b"GET /long HTTP/1.1\r\nHost: here\r\n\r\n", HEALTH]
    sent += [b"GET /v1/nothing HTTP/1.1\r\nHost: here\r\n\r\n", question(), HEALTH]
    with connect() as connection:
        connection.sendall(b"".join(sent))
        got = responses(connection, len(sent))
    assert [head.split(b" ")[1] for head, _ in got] == [b"200"] * 4 + [b"404", b"200", b"200"]
    assert got[2][1] == LONG
    assert got[1][1] == got[5][1]
    assert got[0][1] == got[3][1] == got[6][1]


def test_a_connection_that_closes_gives_all_first(connect: Any) -> None:
    """A client that wants the connection closed gets the whole answer first."""
    with connect() as connection:
        connection.sendall(question(b"Connection: close\r\n"))
        head, body = responses(connection, 1)[0]
        assert connection.recv(1) == b""
    assert b"connection: close" in head.lower()
    assert json.loads(body)["layout"] == ANY.example["layout"]


def test_a_caller_that_sends_no_more_has_its_answer(connect: Any) -> None:
    """A client that has closed its half of the connection still gets its answer."""
    for _ in range(20):
        with connect() as connection:
            connection.sendall(question())
            connection.shutdown(socket.SHUT_WR)
            head, body = responses(connection, 1)[0]
        assert head.startswith(b"HTTP/1.1 200")
        assert json.loads(body)["layout"] == ANY.example["layout"]


def test_a_caller_that_is_gone_disturbs_nobody(connect: Any) -> None:
    """Connections that end before their answer do not disturb the others."""
    for _ in range(50):
        with connect() as connection:
            connection.sendall(question())
    with connect() as connection:
        connection.sendall(question())
        assert responses(connection, 1)[0][0].startswith(b"HTTP/1.1 200")


def test_a_body_that_is_only_announced_is_waited_for(connect: Any) -> None:
    """A client that waits for permission to send its body gets it at once."""
    head, _, body = question(b"Expect: 100-continue\r\n").partition(b"\r\n\r\n")
    with connect() as connection:
        connection.sendall(head + b"\r\n\r\n")
        assert received(connection) == b"HTTP/1.1 100 Continue\r\n\r\n"
        connection.sendall(body)
        assert responses(connection, 1)[0][0].startswith(b"HTTP/1.1 200")


class Recorded(asyncio.Transport):
    """A connection that records what is written to it."""

    def __init__(self) -> None:
        super().__init__()
        self.writes: list[bytes] = []
        self.closed = False

    def write(self, data: Any) -> None:
        """Record one write."""
        self.writes.append(bytes(data))

    def close(self) -> None:
        """Record that it was closed."""
        self.closed = True

    def is_closing(self) -> bool:
        """Return whether it was closed."""
        return self.closed

    def get_extra_info(self, name: str, default: Any = None) -> Any:  # noqa: ARG002 - as asyncio calls it
        """Return nothing about the other side."""
        return default


def gathered(use: Callable[[asyncio.Transport, Recorded], None]) -> Recorded:
    """Use the transport that the protocol puts around a connection, in one turn of the loop."""
    recorded = Recorded()

    async def turn() -> None:
        config = uvicorn.Config(create_app(), **SETTINGS | {"loop": "asyncio"})
        config.load()
        protocol = Protocol(config, uvicorn.server.ServerState(), {})
        protocol.connection_made(recorded)
        use(protocol.transport, recorded)
        await asyncio.sleep(0)

    asyncio.run(turn())
    return recorded


def test_one_turn_is_one_write() -> None:
    """Head and body go out together after the turn."""

    def use(transport: asyncio.Transport, recorded: Recorded) -> None:
        transport.write(b"head")
        transport.write(b"body")
        assert recorded.writes == []

    assert gathered(use).writes == [b"headbody"]


def test_what_is_long_goes_out_at_once() -> None:
    """A long body is not held back, and what was written before it goes first."""

    def use(transport: asyncio.Transport, recorded: Recorded) -> None:
        transport.write(b"head")
        transport.write(LONG)
        assert recorded.writes == [b"head" + LONG]

    assert gathered(use).writes == [b"head" + LONG]


def test_closing_writes_first_and_nothing_after() -> None:
    """Closing sends what was written before, and nothing that is written later."""

    def use(transport: asyncio.Transport, recorded: Recorded) -> None:
        transport.write(b"head")
        transport.close()
        assert recorded.writes == [b"head"]
        assert transport.is_closing()
        transport.write(b"late")

    assert gathered(use).writes == [b"head"]
