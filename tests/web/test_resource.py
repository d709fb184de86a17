"""Methods, paths, media types, caching and headers by RFC 9110 and 9111, on every path of the API."""

import asyncio
import re
from typing import Any

import httpx
import numpy as np
import pytest

from percell.questions.answering.tables import every_table
from percell.questions.registry import QUESTIONS
from percell.web import openapi
from percell.web.app import create_app

TABLES = list(every_table())
BY_TABLE = [f"/v1/tables/{TABLES[0]}{suffix}" for suffix in ("", ".csv")]
ANY = QUESTIONS["direct-load"]
QUESTION = f"/v1/{ANY.id}?layout=1S2P&cell_rating_a=20&coil_resistance_ohm=0.15"
# the methods of every path, as the document has them
ALLOWED = {
    path.format(table=TABLES[0], question="direct-load"): {
        *(["GET", "HEAD"] if "get" in operations else []),
        *(["POST"] if "post" in operations else []),
        "OPTIONS",
    }
    for path, operations in {**openapi.document()["paths"], "/openapi.json": {"get": {}}}.items()
}
METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "TRACE", "QUERY")
# what is read without a question, and one question
READABLE = ["/v1/reference", "/v1/tables", "/openapi.json", "/healthz", *BY_TABLE, QUESTION]
HOST = "http://testserver.local"


def same(headers: Any) -> dict[str, str]:
    """Return the headers that two like answers have alike."""
    return {name: value for name, value in headers.items() if name != "x-request-id"}


def words(header: str) -> set[str]:
    """Return the words of a header in which their order means nothing."""
    return {word.strip() for word in header.split(",")}


@pytest.mark.parametrize("method", METHODS)
def test_a_method_that_is_not_for_a_path(client: Any, is_problem: Any, method: str) -> None:
    """405 on each path that does not take the method, with the methods that it does take."""
    refusing = [path for path, allowed in ALLOWED.items() if method not in allowed]
    assert refusing
    for path in refusing:
        response = client.request(method, path)
        assert words(response.headers["allow"]) == ALLOWED[path], path
        if method == "HEAD":
            assert response.status_code == 405
            assert response.content == b""
        else:
            is_problem(response, "method-not-allowed", 405)


def test_options_says_the_methods(client: Any) -> None:
    """OPTIONS says which methods a path takes, without content."""
    for path, allowed in ALLOWED.items():
        response = client.options(path)
        assert response.status_code == 204
        assert response.content == b""
        assert words(response.headers["allow"]) == allowed, path
        assert "access-control-allow-methods" not in response.headers


def test_a_page_of_another_origin_may_ask(client: Any) -> None:
    """The preflight of a browser allows the methods of the path and the headers that the API reads."""
    preflight = {
        "origin": "https://club.example",
        "access-control-request-method": "POST",
        "access-control-request-headers": "content-type",
    }
    for path, methods in ALLOWED.items():
        response = client.options(path, headers=preflight)
        assert response.status_code == 204
        assert response.headers["access-control-allow-origin"] == "*"
        assert words(response.headers["access-control-allow-methods"]) == methods, path
        allowed = words(response.headers["access-control-allow-headers"].lower())
        assert allowed == {"content-type"}
        assert int(response.headers["access-control-max-age"]) > 0
        assert "access-control-allow-credentials" not in response.headers


@pytest.mark.parametrize(
    ("asked", "allowed"),
    [
        ("authorization, traceparent,x-anything", "authorization, traceparent,x-anything"),
        ("", "*"),
        ("a b", "*"),
        ("x-a\tb", "*"),
        ("a,", "*"),
    ],
)
def test_a_browser_may_send_whatever_header_it_asks_for(
    client: Any, asked: str, allowed: str
) -> None:
    """Tools add headers of their own to every request, and a fixed list would stop them."""
    preflight = {
        "origin": "https://club.example",
        "access-control-request-method": "GET",
        "access-control-request-headers": asked,
    }
    for path in (f"/v1/{ANY.id}", "/v1/nothing"):
        response = client.options(path, headers=preflight)
        assert response.status_code == 204
        assert response.headers["access-control-allow-headers"] == allowed
        assert response.headers["access-control-allow-origin"] == "*"


def test_a_page_of_another_origin_may_read(client: Any) -> None:
    """Each header of an answer that a client acts on can be read by a page of another origin."""
    exposed = words(client.get(QUESTION).headers["access-control-expose-headers"].lower())
    assert exposed >= {
        "etag",
        "link",
        "x-request-id",
        "retry-after",
        "content-disposition",
        "allow",
    }
    assert exposed >= {"deprecation", "sunset"}


@pytest.mark.parametrize("coding", ["identity", "gzip", "br"])
@pytest.mark.parametrize("path", READABLE)
def test_head_is_get_without_content(client: Any, path: str, coding: str) -> None:
    """HEAD has the status and the headers of GET, the length too, and no content."""
    accepted = {"accept-encoding": coding}
    get, head = client.get(path, headers=accepted), client.head(path, headers=accepted)
    assert get.status_code == head.status_code == 200
    assert head.content == b""
    assert same(head.headers) == same(get.headers)
    if "content-encoding" not in get.headers:
        assert int(head.headers["content-length"]) == len(get.content)


def test_no_content_is_sent_after_head(length_sent: Any) -> None:
    """The application itself sends none, whether the answer is one, a problem, or nothing at all."""
    app = create_app()
    for path in ("/healthz", "/v1/reference", f"/v1/{ANY.id}", "/v1/nothing", "/nothing"):
        assert length_sent(app, "GET", path) > 0
        assert length_sent(app, "HEAD", path) == 0, path


def test_head_of_what_fails(client: Any) -> None:
    """Also where GET fails."""
    for path in (f"/v1/{ANY.id}", "/v1/nothing", "/nothing", f"/v1/{ANY.id}?x=%"):
        get, head = client.get(path), client.head(path)
        assert get.status_code == head.status_code >= 400
        assert head.content == b""
        assert same(head.headers) == same(get.headers)


@pytest.mark.parametrize(
    "change",
    [
        lambda p: p + "/",
        lambda p: "/" + p,
        lambda p: p.replace("/", "//"),
        lambda p: p + "//",
        lambda p: p + "%20",
        lambda p: p.upper(),
        lambda p: p.replace(p[1], f"%{ord(p[1]):x}", 1),
        lambda p: p + ";a=1",
    ],
    ids=[
        "slash",
        "doubled",
        "all doubled",
        "two slashes",
        "space",
        "upper",
        "encoded",
        "parameter",
    ],
)
def test_a_thing_has_one_path(client: Any, is_problem: Any, change: Any) -> None:
    """A path that is nearly right names nothing, for any method."""
    for path in [p.partition("?")[0] for p in [*READABLE, "/v1/batch"]]:
        for method in ("GET", "POST", "OPTIONS"):
            is_problem(client.request(method, HOST + change(path)), "not-found", 404)


@pytest.mark.parametrize(
    "path",
    [
        "/",
        "/v1/",
        "/nothing",
        "/v1/nothing",
        "/v1/tables/nothing",
        "/v1/tables/",
        "/v1/%00",
        "/%ff",
        "/v1/" + "x" * 5000,
        "/.env",
        f"/v1/tables/{TABLES[0]}.xml",
    ],
)
def test_nothing_is_404(client: Any, is_problem: Any, path: str) -> None:
    """A path that names nothing is a problem too, whatever the method."""
    for method in ("GET", "POST", "DELETE", "OPTIONS"):
        response = client.request(method, HOST + path)
        is_problem(response, "not-found", 404)
        assert response.headers["x-request-id"]


@pytest.mark.parametrize("accept", [None, "", "*/*", "application/json", "text/html, */*;q=0.1"])
def test_what_is_acceptable(client: Any, accept: str | None) -> None:
    """A client that takes JSON gets it."""
    headers = {} if accept is None else {"accept": accept}
    assert client.get(QUESTION, headers=headers).status_code == 200


def test_what_is_not_acceptable(client: Any, post: Any, is_problem: Any) -> None:
    """406 if the client takes none of the media types, and the detail names them."""
    for response in (
        client.get(QUESTION, headers={"accept": "text/html"}),
        post(f"/v1/{ANY.id}", ANY.example, accept="*/*;q=0"),
        post("/v1/batch", {"items": []}, accept="nonsense"),
    ):
        assert "application/json" in is_problem(response, "not-acceptable", 406)["detail"]


@pytest.mark.parametrize(
    "headers",
    [
        {"content_type": "text/plain"},
        {"content_type": ""},
        {"content_type": "application/json; charset=latin-1"},
        {"content_encoding": "gzip"},
        {"content_encoding": "br"},
    ],
    ids=str,
)
def test_media_types_that_are_not_read(post: Any, is_problem: Any, headers: Any) -> None:
    """415, with what would be read."""
    for path, body in ((f"/v1/{ANY.id}", ANY.example), ("/v1/batch", {"items": []})):
        response = post(path, body, **headers)
        is_problem(response, "unsupported-media-type", 415)
        assert response.headers["accept"] == "application/json"
        assert response.headers["accept-encoding"] == "identity"


def test_a_body_without_a_type_is_not_read(client: Any, is_problem: Any) -> None:
    """415 also where no type is said at all."""
    is_problem(client.post(f"/v1/{ANY.id}", content=b"{}"), "unsupported-media-type", 415)


CACHED = [path for path in READABLE if path != "/healthz"]


@pytest.mark.parametrize("coding", ["identity", "gzip", "br"])
@pytest.mark.parametrize("path", CACHED)
def test_what_a_caller_holds_is_not_sent_again(client: Any, path: str, coding: str) -> None:
    """304 without content for the tag, weak or in a list, and for the star; 200 for another."""
    accepted = {"accept-encoding": coding}
    tag = client.get(path, headers=accepted).headers["etag"]
    assert re.fullmatch(r'"[0-9a-f]{24}(-gzip|-br)?"', tag)
    for known in (tag, f"W/{tag}", f'"a", {tag}', f'W/"a" ,W/{tag},"b"', "*", " * "):
        for method in ("GET", "HEAD"):
            headers = accepted | {"if-none-match": known}
            response = client.request(method, path, headers=headers)
            assert response.status_code == 304, known
            assert response.content == b""
            assert response.headers["etag"] == tag
            assert response.headers["vary"] == "Accept-Encoding"
            assert "cache-control" in response.headers
            assert "content-type" not in response.headers
            assert "content-encoding" not in response.headers
    for other in ('"a"', tag.strip('"'), f'W/"{tag[2:-1]}"', ""):
        headers = accepted | {"if-none-match": other}
        assert client.get(path, headers=headers).status_code == 200, other


def test_what_must_not_be_kept_has_no_tag(client: Any) -> None:
    """The health of the service is always asked anew."""
    response = client.get("/healthz", headers={"if-none-match": "*"})
    assert response.status_code == 200
    assert "etag" not in response.headers


def test_each_coding_has_its_own_tag(client: Any) -> None:
    """A client that holds one coding of an answer is not told that it holds another."""
    tags = {
        coding: client.get(QUESTION, headers={"accept-encoding": coding}).headers["etag"]
        for coding in ("identity", "gzip", "br")
    }
    assert len(set(tags.values())) == 3
    for coding, tag in tags.items():
        for other in tags:
            headers = {"accept-encoding": other, "if-none-match": tag}
            status = client.get(QUESTION, headers=headers).status_code
            assert status == (304 if other == coding else 200)


@pytest.mark.parametrize(
    ("accepted", "coding"),
    [
        ("", None),
        ("identity", None),
        ("deflate, zstd", None),
        ("gzip", "gzip"),
        ("GZIP", "gzip"),
        ("br", "br"),
        ("gzip, deflate, br, zstd", "gzip"),
        ("gzip;q=0.5, br;q=0.8", "br"),
        ("gzip;q=0, br", "br"),
        ("gzip;q=0", None),
        ("gzip; q=0.000, br; q=0.0", None),
        ("*", "gzip"),
        ("*;q=0", None),
        ("gzip;q=0, *", "br"),
        ("br;q=0, gzip;q=0, *", None),
        ("gzip;q=nonsense", None),
    ],
)
def test_an_answer_comes_in_a_coding_that_the_client_takes(
    client: Any, post: Any, accepted: str, coding: str | None
) -> None:
    """The coding is one that the client accepts, and the content is the same in each."""
    headers = {"accept-encoding": accepted}
    plain = client.get(QUESTION, headers={"accept-encoding": "identity"})
    got = client.get(QUESTION, headers=headers)
    assert got.headers.get("content-encoding") == coding
    assert got.headers["vary"] == "Accept-Encoding"
    assert got.content == plain.content
    posted = post(f"/v1/{ANY.id}", ANY.example, accept_encoding=accepted)
    assert posted.headers.get("content-encoding") == coding


def test_what_is_large_comes_in_brotli(client: Any) -> None:
    """A client that takes both gets the document in the smaller one, and a tenth of its size."""
    plain = client.get("/openapi.json", headers={"accept-encoding": "identity"})
    got = client.get("/openapi.json", headers={"accept-encoding": "gzip, br"})
    assert got.headers["content-encoding"] == "br"
    assert got.content == plain.content
    assert int(got.headers["content-length"]) < len(plain.content) / 6


def test_what_is_small_is_not_compressed(client: Any) -> None:
    """The health of the service and a problem come as they are."""
    for path in ("/healthz", "/v1/nothing"):
        response = client.get(path, headers={"accept-encoding": "gzip"})
        assert "content-encoding" not in response.headers


def test_the_tag_follows_the_answer(client: Any) -> None:
    """Another answer has another tag, and the same answer the same."""
    one, two = client.get(QUESTION), client.get(QUESTION.replace("0.15", "0.16"))
    assert one.headers["etag"] != two.headers["etag"]
    assert one.headers["etag"] == client.get(QUESTION).headers["etag"]


@pytest.mark.parametrize("path", READABLE)
def test_how_long_an_answer_may_be_kept(client: Any, path: str) -> None:
    """What is the same for everybody may be kept for five minutes; health is not kept."""
    expected = {"no-store"} if path == "/healthz" else {"public", "max-age=300"}
    assert words(client.get(path).headers["cache-control"]) == expected


def test_what_is_not_kept(client: Any, post: Any) -> None:
    """No problem and no answer to POST is kept."""
    for response in (
        client.get("/v1/nothing"),
        client.get(f"/v1/{ANY.id}"),
        post(f"/v1/{ANY.id}", ANY.example),
        post("/v1/batch", {"items": [{"question": ANY.id, "ask": ANY.example}]}),
        client.options(f"/v1/{ANY.id}"),
    ):
        assert words(response.headers["cache-control"]) == {"no-store"}


@pytest.mark.parametrize("method", ["GET", "HEAD", "POST", "OPTIONS", "PUT"])
def test_every_answer_is_guarded(client: Any, method: str) -> None:
    """Each response, also a problem, has the headers that keep a browser from misusing it."""
    for path in (*READABLE, "/v1/batch", "/v1/nothing", "/nothing", f"/v1/{ANY.id}"):
        response = client.request(method, path)
        headers = response.headers
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["content-security-policy"] == "default-src 'none'; frame-ancestors 'none'"
        assert headers["access-control-allow-origin"] == "*"
        assert "etag" in words(headers["access-control-expose-headers"].lower())
        links_document = response.status_code != 200 or path in ("/v1", "/healthz")
        assert ('rel="service-desc"' in headers.get("link", "")) is links_document, path
        assert headers["x-request-id"]
        assert "server" not in headers


def test_request_ids(client: Any) -> None:
    """A well-formed id comes back; for any other, and for none, a new one is made."""
    for given in ("a", "A-b_c.9", "x" * 64):
        for path in (QUESTION, "/v1/nothing", "/nothing"):
            response = client.get(path, headers={"x-request-id": given})
            assert response.headers["x-request-id"] == given
    made = {client.get(QUESTION).headers["x-request-id"] for _ in range(20)}
    for given in ("", "a b", "x" * 65, "a\tb", "<script>", "a;b", "é".encode()):
        response = client.get(QUESTION, headers={"x-request-id": given})
        made.add(response.headers["x-request-id"])
    assert len(made) == 27
    assert all(re.fullmatch(r"[0-9a-f]{8}-[0-9a-f]+", one) for one in made)


def many_cells() -> dict[str, Any]:
    draws = np.random.default_rng(4).normal((3, 0.02, 4.17), (0.1, 0.002, 0.01), (200, 3))
    names = ("cell_capacity_ah", "cell_resistance_ohm", "open_circuit_voltage_v")
    cells = [dict(zip(names, values, strict=True)) for values in draws.tolist()]
    return {"cells": cells, "cells_in_set": 3}


def test_a_slow_answer_keeps_no_other_request_waiting() -> None:
    """While 200 cells are matched, which takes a second, other requests are answered."""

    async def ask() -> tuple[int, int]:
        transport = httpx.ASGITransport(app=create_app())  # type: ignore[arg-type]
        async with httpx.AsyncClient(transport=transport, base_url="http://bench") as client:
            slow = asyncio.create_task(
                client.post("/v1/matched-sets", json=many_cells(), timeout=60)
            )
            answered = 0
            while not slow.done():
                # a client that asked without a pause would keep Python's lock from the thread
                await asyncio.sleep(0.005)
                await client.get("/healthz")
                answered += 1
            return (await slow).status_code, answered

    status, answered = asyncio.run(ask())
    assert status == 200
    # were it worked out in the way of others, none or one would have got through
    assert answered > 20
