"""A body is read whole, in however many parts it comes, and never beyond its limit."""

import asyncio
from typing import Any

import pytest

from percell.questions.registry import QUESTIONS
from percell.web.call import Call
from percell.web.codings import chosen
from percell.web.problems import Failed

ANY = QUESTIONS["direct-load"]
JSON = {"content-type": "application/json"}
LIMIT = 8


def call(parts: list[bytes], length: bytes | None = None) -> Call:
    """Return a request whose body comes in these parts, with a limit of eight bytes."""
    left = list(parts)

    async def receive() -> Any:
        return {"type": "http.request", "body": left.pop(0), "more_body": bool(left)}

    headers = [] if length is None else [(b"content-length", length)]
    return Call({"query_string": b"", "headers": headers}, receive, LIMIT)


async def joined(one: Call) -> bytes:
    return b"".join([part async for part in one.parts()])


@pytest.mark.parametrize("read", [Call.body, joined], ids=["whole", "in parts"])
@pytest.mark.parametrize(
    ("parts", "length"),
    [
        ([b""], None),
        ([b"12345678"], None),
        ([b"12345678"], b"8"),
        ([b"1234", b"", b"5678"], None),
        ([b"", b"1", b"2345678", b""], b"8"),
        ([b"1"], b"x"),
        ([b"1"], b"-9"),
    ],
)
def test_a_body_within_its_limit_is_read(read: Any, parts: list[bytes], length: Any) -> None:
    """A body of exactly the limit is read, in one piece or in several, whatever length was announced."""
    assert asyncio.run(read(call(parts, length))) == b"".join(parts)


@pytest.mark.parametrize("read", [Call.body, joined], ids=["whole", "in parts"])
@pytest.mark.parametrize(
    ("parts", "length"),
    [([b"123456789"], None), ([b"1234", b"56789"], None), ([b"1"], b"9"), ([], b"9")],
)
def test_a_body_beyond_its_limit_is_refused(read: Any, parts: list[bytes], length: Any) -> None:
    """One byte more is too much, as it arrives or as it is announced, before anything is read."""
    with pytest.raises(Failed) as refused:
        asyncio.run(read(call(parts, length)))
    assert refused.value.kind == "content-too-large"


@pytest.mark.parametrize("path", [f"/v1/{ANY.id}", "/v1/batch"])
def test_the_limit_of_a_body_is_a_mebibyte(client: Any, is_problem: Any, path: str) -> None:
    """413 for one byte more, whether its length is announced or it comes in parts."""
    limit = 1024 * 1024
    whole = client.post(path, content=b" " * (limit + 1), headers=JSON)
    assert str(limit) in is_problem(whole, "content-too-large", 413)["detail"]
    parts = (part for part in [*[b" " * 65536] * 16, b" "])
    is_problem(client.post(path, content=parts, headers=JSON), "content-too-large", 413)
    largest = client.post(path, content=b" " * limit, headers=JSON)
    is_problem(largest, "unreadable-body", 400)


def test_a_body_in_parts_is_the_same_question(client: Any, post: Any) -> None:
    """A body that comes byte by byte has the answer of the whole."""
    body = b'{"layout":"1S2P","cell_rating_a":20,"coil_resistance_ohm":0.15}'
    parts = (body[at : at + 1] for at in range(len(body)))
    response = client.post(f"/v1/{ANY.id}", content=parts, headers=JSON)
    assert response.status_code == 200
    assert response.content == post(f"/v1/{ANY.id}", body).content


def test_a_header_in_several_lines_is_one_list() -> None:
    """What a line excludes, no other line allows, and each line counts."""
    lines = [(b"accept-encoding", b"gzip;q=0"), (b"host", b"a"), (b"accept-encoding", b"br;q=0, *")]
    found = Call({"query_string": b"", "headers": lines}, Any, LIMIT)  # type: ignore[arg-type]
    assert found.headers == {b"accept-encoding": b"gzip;q=0, br;q=0, *", b"host": b"a"}
    assert chosen(found.headers[b"accept-encoding"], 10_000) == b""
