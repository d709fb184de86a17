"""Requests that break the rules of HTTP, and clients that keep the server waiting, on the server as it runs."""

import json
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from typing import Any

import pytest

from percell import protocol
from percell.protocol import HEAD_LIMIT, Awaits
from percell.serve import SETTINGS
from percell.waits import Waits, waits_from
from percell.web.app import create_app
from percell.web.call import TARGET_LIMIT

HEALTH = b"GET /healthz HTTP/1.1\r\nHost: here\r\n\r\n"
POST = b"POST /v1/pack HTTP/1.1\r\nHost: here\r\nContent-Type: application/json\r\n"
SHORT_S = 0.5
Connect = Callable[[], socket.socket]


class Impatient(protocol.Protocol):
    """A connection that waits for half a second only."""

    def connection_made(self, transport: Any) -> None:
        """Shorten the times."""
        super().connection_made(transport)
        self._longest_s = dict.fromkeys(Awaits, SHORT_S) | {Awaits.ANSWER: float("inf")}


@pytest.fixture(scope="session")
def connected(serving: Any) -> Callable[[type[protocol.Protocol]], Iterator[Connect]]:
    """Return a way to run a server with a protocol, and to get what connects to it."""

    def run(kind: type[protocol.Protocol]) -> Iterator[Connect]:
        with serving(create_app(), **SETTINGS | {"http": kind}) as address:
            yield lambda: socket.create_connection(address, timeout=15)

    return run


@pytest.fixture(scope="module")
def connect(connected: Any) -> Iterator[Connect]:
    """Return a way to connect to a server as users run it."""
    yield from connected(protocol.Protocol)


@pytest.fixture(scope="module")
def connect_impatient(connected: Any) -> Iterator[Connect]:
    """Return a way to connect to a server that waits for half a second, and looks ten times a second."""
    kept, protocol.SWEEP_S = protocol.SWEEP_S, 0.1
    yield from connected(Impatient)
    protocol.SWEEP_S = kept


def read_all(connection: socket.socket) -> bytes:
    """Return all that arrives until the server ends the connection."""
    got = b""
    while piece := connection.recv(100_000):
        got += piece
    return got


def exchange(connect: Connect, *pieces: bytes) -> bytes:
    """Send pieces, and return all that arrives until the server ends the connection."""
    with connect() as connection:
        for piece in pieces:
            connection.sendall(piece)
            time.sleep(0.02 if len(pieces) > 1 else 0)
        return read_all(connection)


def ended_early(connection: socket.socket) -> bool:
    """Read what is left, and return whether the server broke the connection off."""
    got = 0
    try:
        while piece := connection.recv(1_000_000):
            got += len(piece)
    except ConnectionError:
        return True
    return got < 5_000_000


def problem(response: bytes, kind: str, status: int) -> dict[str, str]:
    """Check that a response is a whole problem document of a kind; return its headers."""
    head, _, body = response.partition(b"\r\n\r\n")
    first, *lines = head.decode().split("\r\n")
    headers = dict(line.split(": ", 1) for line in lines)
    found = json.loads(body)
    assert first.split(" ")[1] == str(status), response
    assert found["status"] == status
    assert found["type"].endswith(f"/problems/{kind}/")
    assert headers["content-type"] == "application/problem+json"
    assert headers["access-control-allow-origin"] == "*"
    assert headers["cache-control"] == "no-store"
    assert headers["x-request-id"]
    assert headers["date"]
    assert headers["connection"] == "close"
    assert int(headers["content-length"]) == len(body)
    return headers


def get(*headers: bytes, target: bytes = b"/healthz", version: bytes = b"1.1") -> bytes:
    """Return a request with these headers alone."""
    return b"\r\n".join([b"GET %b HTTP/%b" % (target, version), *headers, b"", b""])


HOST = b"Host: here"
LONG_TARGET = b"/v1/pack?" + b"x" * TARGET_LIMIT
BROKEN = {
    "no Host": (get(), "malformed-request", 400),
    "two Hosts": (get(HOST, b"Host: there"), "malformed-request", 400),
    "the same Host twice": (get(HOST, HOST), "malformed-request", 400),
    "two Hosts in HTTP/1.0": (get(HOST, HOST, version=b"1.0"), "malformed-request", 400),
    "two codings": (get(HOST, b"Transfer-Encoding: gzip, chunked"), "not-implemented", 501),
    "two lines of codings": (
        get(HOST, b"Transfer-Encoding: gzip", b"Transfer-Encoding: chunked"),
        "not-implemented",
        501,
    ),
    "an unknown coding": (
        b"POST /v1/pack HTTP/1.1\r\nHost: here\r\nTransfer-Encoding: br\r\n\r\nabc",
        "not-implemented",
        501,
    ),
    "a coding and a length": (
        POST + b"Transfer-Encoding: chunked\r\nContent-Length: 3\r\n\r\n0\r\n\r\n",
        "malformed-request",
        400,
    ),
    "two lengths": (
        POST + b"Content-Length: 3\r\nContent-Length: 4\r\n\r\nabc",
        "malformed-request",
        400,
    ),
    "a bad chunk": (POST + b"Transfer-Encoding: chunked\r\n\r\nzz\r\n", "malformed-request", 400),
    "a long target": (get(HOST, target=LONG_TARGET), "target-too-long", 414),
    "a target without end": (b"GET " + LONG_TARGET * 8, "target-too-long", 414),
    "a long field": (get(HOST, b"X: " + b"x" * HEAD_LIMIT), "head-too-large", 431),
    "many fields": (get(HOST, *[b"X: y"] * 101), "head-too-large", 431),
    "a method that nobody knows": (
        b"BREW / HTTP/1.1\r\nHost: here\r\n\r\n",
        "not-implemented",
        501,
    ),
    "a method in small letters": (b"get / HTTP/1.1\r\nHost: here\r\n\r\n", "not-implemented", 501),
    "a tunnel": (b"CONNECT here:443 HTTP/1.1\r\nHost: here\r\n\r\n", "not-implemented", 501),
    "letters outside ASCII": (get(HOST, target="/Ω".encode()), "malformed-request", 400),
    "a space in the target": (get(HOST, target=b"/a b"), "malformed-request", 400),
    "a space before the colon": (get(b"Host : here"), "malformed-request", 400),
    "a folded line": (get(HOST, b" folded"), "malformed-request", 400),
    "a control character": (get(HOST, b"X: \x01"), "malformed-request", 400),
    "TLS": (b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03", "malformed-request", 400),
    "HTTP/9.9": (get(HOST, version=b"9.9"), "version-not-supported", 505),
    "HTTP/2.0": (get(HOST, version=b"2.0"), "version-not-supported", 505),
    "HTTP/2": (b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n", "version-not-supported", 505),
    "HTTP/0.9": (b"GET /healthz\r\n\r\n", "version-not-supported", 505),
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_request_is_a_problem(connect: Connect, name: str) -> None:
    """It gets the status that the rules name, as a problem document, and the connection ends."""
    sent, kind, status = BROKEN[name]
    problem(exchange(connect, sent), kind, status)


@pytest.mark.parametrize("more", [1, 8])
def test_too_much_in_a_form_is_a_page(connect: Connect, more: int) -> None:
    """Who typed or pasted more than an address can hold reads what to do."""
    sent = b"GET /ask/matched-sets?pasted-cells=" + b"x" * TARGET_LIMIT * more
    got = exchange(connect, sent + b" HTTP/1.1\r\nHost: here\r\n\r\n" if more == 1 else sent)
    head, _, body = got.partition(b"\r\n\r\n")
    assert head.startswith(b"HTTP/1.1 414")
    assert b"text/html" in head
    assert b"no-store" in head
    assert b"<h1>Too much for an address</h1>" in body
    assert b"\r\ncontent-length: %d\r\n" % len(body) in head.lower()


def test_a_long_head_in_pieces(connect: Connect) -> None:
    """A head that grows without end is refused before it ends, also if it comes piece by piece."""
    pieces = [b"GET / HTTP/1.1\r\nHost: here\r\n", *[b"X: " + b"x" * 8000 + b"\r\n"] * 6]
    problem(exchange(connect, *pieces), "head-too-large", 431)


def test_a_long_body_is_no_long_head(connect: Connect) -> None:
    """The limits of a head do not count a body before it, nor the other way round."""
    body = b" " * 200_000
    sent = POST + b"Content-Length: %d\r\n\r\n" % len(body) + body
    with connect() as connection:
        connection.sendall(sent + HEALTH[:20])
        time.sleep(0.2)
        connection.sendall(HEALTH[20:-2] + b"Connection: close\r\n\r\n")
        got = read_all(connection)
    assert got.startswith(b"HTTP/1.1 400")  # only blanks are no JSON
    assert b"HTTP/1.1 200" in got


def test_a_request_keeps_its_id(connect: Connect) -> None:
    """The problem has the id that the client gave, where the head got that far."""
    headers = problem(
        exchange(connect, get(b"X-Request-Id: mine", HOST, HOST)), "malformed-request", 400
    )
    assert headers["x-request-id"] == "mine"


def test_head_of_a_broken_request(connect: Connect) -> None:
    """The answer to HEAD has no content."""
    got = exchange(connect, b"HEAD /healthz HTTP/1.1\r\n\r\n")
    assert got.startswith(b"HTTP/1.1 400")
    assert got.endswith(b"\r\n\r\n")


def test_what_came_before_is_answered_first(connect: Connect) -> None:
    """Requests before a broken one get their answers, in order, and what follows it is not read."""
    table = b"GET /v1/tables/meter-error.csv HTTP/1.1\r\nHost: here\r\n\r\n"  # in another thread
    for before in ([HEALTH, table], [table, HEALTH], [table], [table, table, table]):
        got = exchange(connect, b"".join([*before, get(), HEALTH]))
        assert [part[:3] for part in got.split(b"HTTP/1.1 ")[1:]] == [b"200"] * len(before) + [
            b"400"
        ]
        problem(b"HTTP/1.1 " + got.rpartition(b"HTTP/1.1 ")[2], "malformed-request", 400)


def test_a_bad_chunk_after_others(connect: Connect) -> None:
    """A body that breaks off behind requests that are still answered does not take their answers along."""
    table = b"GET /v1/tables/meter-error.csv HTTP/1.1\r\nHost: here\r\n\r\n"
    bad = POST + b"Transfer-Encoding: chunked\r\n\r\nzz\r\n"
    got = exchange(connect, table + bad)
    assert [part[:3] for part in got.split(b"HTTP/1.1 ")[1:]] == [b"200", b"400"]


def test_what_is_right_still_works(connect: Connect) -> None:
    """HTTP/1.0 without a Host, an offer of another protocol, a trailer, and a target with a host."""
    offer = get(HOST, b"Connection: upgrade, close", b"Upgrade: h2c")
    body = b'{"layout": "1S1P", "cell_capacity_ah": 3, "cell_rating_a": 20}'
    chunked = (
        POST
        + b"Transfer-Encoding: chunked\r\nConnection: close\r\n\r\n%x\r\n%b\r\n0\r\nX: y\r\n\r\n"
    )
    for sent in (
        get(version=b"1.0"),
        get(HOST, version=b"1.0"),
        offer,
        chunked % (len(body), body),
        get(HOST, b"Connection: close", target=b"http://here/healthz"),
    ):
        assert exchange(connect, sent).startswith(b"HTTP/1.1 200"), sent


OFFER = b"Connection: Upgrade, HTTP2-Settings\r\nUpgrade: h2c\r\n"
PACK = b'{"layout": "1S1P", "cell_capacity_ah": 3, "cell_rating_a": 20}'
IN_CHUNKS = b"Transfer-Encoding: chunked\r\n\r\n5\r\n%b\r\n%x\r\n%b\r\n0\r\n\r\n"


@pytest.mark.parametrize(
    "sent",
    [
        (POST + OFFER + b"Content-Length: %d\r\n\r\n%b" % (len(PACK), PACK),),
        (POST + OFFER + b"Content-Length: %d\r\n\r\n" % len(PACK), PACK[:9], PACK[9:] + HEALTH),
        (POST + OFFER + IN_CHUNKS % (PACK[:5], len(PACK) - 5, PACK[5:]),),
        (HEALTH + POST + OFFER + b"Content-Length: %d\r\n\r\n%b" % (len(PACK), PACK) + HEALTH,),
        (HEALTH[:-2] + OFFER + b"\r\n" + HEALTH,),
    ],
)
def test_another_protocol_may_be_offered(connect: Connect, sent: tuple[bytes, ...]) -> None:
    """The request is answered in this one, with its body, and the connection ends."""
    *_, last = exchange(connect, *sent).split(b"HTTP/1.1 ")
    assert last.startswith(b"200"), last
    assert b"connection: close" in last


@pytest.mark.parametrize("offer", [b"", OFFER])
def test_an_answer_before_the_body_has_arrived_is_not_lost(connect: Connect, offer: bytes) -> None:
    """A client that ends the connection after each answer reads it even if it still sends."""
    size = 3_000_000
    head = POST + offer + b"Connection: close\r\nContent-Length: %d\r\n\r\n" % size
    got = exchange(connect, head + b"x" * size)
    problem(got, "content-too-large", 413)


def test_a_client_that_sends_no_more_has_an_answer_that_takes_long(connect: Connect) -> None:
    """A client that has closed its half of the connection gets what another thread calculates too."""
    with connect() as connection:
        connection.sendall(b"GET /v1/tables/meter-error.csv HTTP/1.1\r\nHost: here\r\n\r\n")
        connection.shutdown(socket.SHUT_WR)
        got = read_all(connection)
    assert got.startswith(b"HTTP/1.1 200")
    assert got.endswith(b"\r\n")


@pytest.mark.parametrize(
    ("sent", "awaited"),
    [
        (b"GET /", "head"),
        (HEALTH[:-2], "head"),
        (HEALTH + b"GET /", "head"),
        (POST + b"Content-Length: 100\r\n\r\n{", "body"),
        (POST + b"Transfer-Encoding: chunked\r\n\r\n1\r\n{\r\n", "body"),
    ],
)
def test_half_a_request_is_not_waited_for(
    connect_impatient: Connect, sent: bytes, awaited: str
) -> None:
    """Half a head and half a body get 408 after their time, also if more of them drips in."""
    begun = time.monotonic()
    with connect_impatient() as connection:
        connection.sendall(sent)
        for _ in range(3):
            time.sleep(0.1)
            connection.sendall(b"1" if awaited == "head" else b"")
        got = read_all(connection)
    assert SHORT_S <= time.monotonic() - begun < SHORT_S + 5
    last = b"HTTP/1.1 " + got.rpartition(b"HTTP/1.1 ")[2]
    problem(last, "request-timeout", 408)
    assert awaited.encode() in last


@pytest.mark.parametrize("sent", [b"", HEALTH, HEALTH * 3, b"\r\n"])
def test_an_idle_connection_ends(connect_impatient: Connect, sent: bytes) -> None:
    """It ends without a word, before the first request and after any."""
    begun = time.monotonic()
    got = exchange(connect_impatient, sent)
    assert SHORT_S <= time.monotonic() - begun < SHORT_S + 5
    assert got.count(b"HTTP/1.1 ") == got.count(b"HTTP/1.1 200") == sent.count(HEALTH)


def test_a_connection_in_use_is_kept(connect_impatient: Connect) -> None:
    """A client that goes on asking keeps its connection for longer than any of the times."""
    with connect_impatient() as connection:
        for _ in range(10):
            connection.sendall(HEALTH)
            assert connection.recv(10_000).startswith(b"HTTP/1.1 200")
            time.sleep(SHORT_S / 4)


def test_a_client_that_does_not_read_is_let_go(connect_impatient: Connect) -> None:
    """Answers that nobody takes are not kept for ever."""
    with connect_impatient() as connection:
        connection.sendall(get(HOST, target=b"/openapi.json") * 20)
        time.sleep(SHORT_S + 2)
        assert ended_early(connection)


def test_a_client_that_goes_on_sending_after_a_refusal_is_let_go(
    connect_impatient: Connect,
) -> None:
    """It can read its problem for a while, and then the connection ends."""
    with connect_impatient() as connection:
        connection.sendall(get())
        assert connection.recv(10_000).startswith(b"HTTP/1.1 400")
        begun = time.monotonic()
        with suppress(ConnectionError):
            while time.monotonic() < begun + 20:
                connection.sendall(b"x" * 1000)
                time.sleep(0.05)
        assert time.monotonic() < begun + 10


class Counting(protocol.Protocol):
    """A connection that notes how many requests wait for each other at most."""

    most = 0

    def on_headers_complete(self) -> None:
        """Note it at each request."""
        super().on_headers_complete()
        Counting.most = max(Counting.most, len(self.pipeline))


@pytest.fixture(scope="module")
def connect_counted(connected: Any) -> Iterator[Connect]:
    """Return a way to connect to a server that counts."""
    yield from connected(Counting)


BODY = b'{"layout": "1S1P", "cell_rating_a": 20, "cell_capacity_ah": 3}'.ljust(100)


@pytest.mark.parametrize(
    "sent", [HEALTH, POST + b"Content-Length: 100\r\n\r\n" + BODY], ids=["heads", "bodies"]
)
def test_thousands_of_requests_at_once_are_read_in_turns(
    connect_counted: Connect, sent: bytes
) -> None:
    """All are answered, and of those that wait for each other only a few are read ahead."""
    Counting.most = 0
    count = 1_000_000 // len(sent)
    with connect_counted() as connection:
        sending = threading.Thread(target=connection.sendall, args=(sent * count,))
        sending.start()
        got = 0
        left = b""
        while got < count and (piece := connection.recv(1_000_000)):
            left += piece
            got += left.count(b"HTTP/1.1 200 ")
            left = left[-12:]
        sending.join()
    assert got == count
    assert 0 < Counting.most <= 2 * protocol.HEAD_LIMIT // len(sent)


def test_half_closed_after_thousands_of_requests(connect: Connect) -> None:
    """A client that sends no more has all its answers, and then the connection ends."""
    sent = HEALTH * (200_000 // len(HEALTH))
    with connect() as connection:
        reading: list[bytes] = []
        thread = threading.Thread(target=lambda: reading.append(read_all(connection)))
        thread.start()
        connection.sendall(sent)
        connection.shutdown(socket.SHUT_WR)
        thread.join()
    assert reading[0].count(b"HTTP/1.1 200 ") == 200_000 // len(HEALTH)


def test_the_times_are_configured_by_the_environment() -> None:
    """Each has a variable and a default, and what is no time is refused by name."""
    assert waits_from({}) == Waits() == waits_from({"PERCELL_HEAD_TIMEOUT_S": ""})
    named = {"PERCELL_HEAD_TIMEOUT_S": "1.5", "PERCELL_BODY_TIMEOUT_S": "2"}
    assert waits_from(named) == Waits(head_s=1.5, body_s=2)
    for bad in ("0", "-1", "nan", "inf", "ten", "1e9"):
        with pytest.raises(ValueError, match="PERCELL_IDLE_TIMEOUT_S"):
            waits_from({"PERCELL_IDLE_TIMEOUT_S": bad})
