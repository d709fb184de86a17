"""Methods, paths, forms, caching and headers, as RFC 9110 and 9111 have them, on every path there is."""

import re
from collections.abc import Iterator
from typing import Any

import pytest
from litestar.testing import TestClient

from percell import VERSION
from percell.questions.answering.tables import every_table
from percell.questions.registry import QUESTIONS
from percell.web import openapi
from percell.web.app import create_app

TABLES = list(every_table())
BY_TABLE = [f"/v1/tables/{TABLES[0]}{suffix}" for suffix in ("", ".json", ".csv")]
ANY = QUESTIONS["direct-load"]
QUESTION = f"/v1/{ANY.id}?layout=1S2P&cell_rating_a=20&coil_resistance_ohm=0.15"
# the methods of every path, as the document has them
ALLOWED = {
    concrete: ", ".join(
        [
            *(["GET", "HEAD"] if "get" in operations else []),
            *(["POST"] if "post" in operations else []),
            "OPTIONS",
        ]
    )
    for path, operations in {**openapi.document()["paths"], "/openapi.json": {"get": {}}}.items()
    for concrete in (BY_TABLE if "{" in path else [path])
}
# what is read without a question, and one question
READABLE = ["/v1/reference", "/v1/tables", "/openapi.json", "/healthz", *BY_TABLE, QUESTION]
HOST = "http://testserver.local"


def same(headers: Any) -> dict[str, str]:
    """Return the headers that two like answers have alike."""
    return {name: value for name, value in headers.items() if name != "x-request-id"}


@pytest.mark.parametrize("path", ALLOWED)
@pytest.mark.parametrize(
    "method", ["GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "TRACE", "QUERY"]
)
def test_a_method_that_is_not_for_a_path(
    client: Any, is_problem: Any, path: str, method: str
) -> None:
    """405 with the methods that are; HEAD wherever GET is."""
    allowed = ALLOWED[path].split(", ")
    assert ("GET" in allowed) == ("HEAD" in allowed)
    if method in allowed:
        return
    response = client.request(method, path)
    assert response.headers["allow"] == ALLOWED[path]
    if method == "HEAD":
        assert response.status_code == 405
        assert response.content == b""
    else:
        is_problem(response, "method-not-allowed", 405)


@pytest.mark.parametrize("path", ALLOWED)
def test_options_says_the_methods(client: Any, path: str) -> None:
    """OPTIONS says what a path takes, without content."""
    response = client.options(path)
    assert response.status_code == 204
    assert response.content == b""
    assert response.headers["allow"] == ALLOWED[path]
    assert "access-control-allow-methods" not in response.headers


@pytest.mark.parametrize("path", ALLOWED)
def test_a_page_of_another_origin_may_ask(client: Any, path: str) -> None:
    """The preflight of a browser allows the methods and the headers that the API reads."""
    response = client.options(
        path,
        headers={
            "origin": "https://club.example",
            "access-control-request-method": "POST",
            "access-control-request-headers": "content-type",
        },
    )
    assert response.status_code == 204
    assert response.headers["access-control-allow-origin"] == "*"
    assert response.headers["access-control-allow-methods"] == ALLOWED[path]
    allowed = response.headers["access-control-allow-headers"].lower()
    assert {"content-type", "accept", "if-none-match"} <= set(allowed.split(", "))
    assert int(response.headers["access-control-max-age"]) > 0
    assert "access-control-allow-credentials" not in response.headers


@pytest.mark.parametrize("path", READABLE)
def test_head_is_get_without_content(client: Any, path: str) -> None:
    """HEAD has the status and the headers of GET, the length too, and no content."""
    get, head = client.get(path), client.head(path)
    assert get.status_code == head.status_code == 200
    assert head.content == b""
    assert same(head.headers) == same(get.headers)
    assert int(head.headers["content-length"]) == len(get.content)


def test_head_of_what_fails(client: Any) -> None:
    """Also where GET fails."""
    for path in (f"/v1/{ANY.id}", "/v1/nothing", "/nothing", f"/v1/{ANY.id}?x=%"):
        get, head = client.get(path), client.head(path)
        assert get.status_code == head.status_code >= 400
        assert head.content == b""
        assert same(head.headers) == same(get.headers)


@pytest.mark.parametrize("path", [p.partition("?")[0] for p in [*READABLE, "/v1/batch"]])
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
def test_a_thing_has_one_path(client: Any, is_problem: Any, path: str, change: Any) -> None:
    """A path that is nearly right is nothing, for any method."""
    for method in ("GET", "POST", "OPTIONS"):
        is_problem(client.request(method, HOST + change(path)), "not-found", 404)


@pytest.mark.parametrize(
    "path",
    [
        "/",
        "/v1",
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


@pytest.mark.parametrize(
    "accept",
    [
        "application/json",
        "*/*",
        "application/*",
        "text/html, */*;q=0.1",
        "APPLICATION/JSON",
        "application/json;q=0.5, text/html",
        "",
        "text/html, application/json;charset=utf-8",
    ],
)
def test_what_is_acceptable(client: Any, accept: str) -> None:
    """JSON is given to whoever takes it, by whatever range."""
    assert client.get(QUESTION, headers={"accept": accept}).status_code == 200


@pytest.mark.parametrize(
    "accept",
    [
        "text/html",
        "application/xml, text/*",
        "application/json;q=0",
        "*/*;q=0.0",
        "text/html, */*;q=0",
        "application/json;q=0, */*",
        "nonsense",
        ";;,,",
        "text/html;q=abc",
    ],
)
def test_what_is_not_acceptable(client: Any, post: Any, is_problem: Any, accept: str) -> None:
    """406 where every form is excluded, and the forms are named."""
    for response in (
        client.get(QUESTION, headers={"accept": accept}),
        post(f"/v1/{ANY.id}", ANY.example, accept=accept),
        post("/v1/batch", {"items": []}, accept=accept),
    ):
        assert "application/json" in is_problem(response, "not-acceptable", 406)["detail"]


@pytest.mark.parametrize("path", [f"/v1/{ANY.id}", "/v1/batch"])
def test_a_body_too_large(client: Any, is_problem: Any, path: str) -> None:
    """413 for a body beyond the limit, whether its length was said or it comes in parts."""
    json_type = {"content-type": "application/json"}
    limit = 1024 * 1024
    whole = client.post(path, content=b" " * (limit + 1), headers=json_type)
    assert str(limit) in is_problem(whole, "content-too-large", 413)["detail"]

    parts = (b" " * 65536 for _ in range(17))
    is_problem(client.post(path, content=parts, headers=json_type), "content-too-large", 413)

    largest = client.post(path, content=b" " * limit, headers=json_type)
    is_problem(largest, "unreadable-body", 400)


def test_a_body_in_parts_is_read_whole(client: Any, post: Any) -> None:
    """A body that comes in parts, some of them empty, is the same body."""
    body = b'{"layout":"1S2P","cell_rating_a":20,"coil_resistance_ohm":0.15}'
    parts = (body[i : i + 1] if i % 2 == 0 or i < len(body) else b"" for i in range(len(body) + 2))
    response = client.post(
        f"/v1/{ANY.id}", content=parts, headers={"content-type": "application/json"}
    )
    assert response.content == post(f"/v1/{ANY.id}", body).content


def test_a_length_that_is_none(client: Any) -> None:
    """A Content-Length that a server let through as nonsense breaks nothing."""
    response = client.post(
        f"/v1/{ANY.id}",
        content=b"{}",
        headers={"content-type": "application/json", "content-length": "x"},
    )
    assert response.status_code == 422


@pytest.mark.parametrize(
    "media",
    [
        "application/json",
        "application/json; charset=utf-8",
        'Application/JSON;charset="UTF-8"',
        "application/json ;charset=UTF-8",
    ],
)
def test_media_types_that_are_read(post: Any, media: str) -> None:
    """JSON in UTF-8, however it is spelt."""
    assert post(f"/v1/{ANY.id}", ANY.example, content_type=media).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"content_type": "text/plain"},
        {"content_type": ""},
        {"content_type": "application/x-www-form-urlencoded"},
        {"content_type": "application/json; charset=latin-1"},
        {"content_type": "application/json; charset=utf-16"},
        {"content_type": "application/jsonp"},
        {"content_type": "application/json, text/plain"},
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


@pytest.mark.parametrize("path", READABLE)
def test_what_a_caller_holds_is_not_sent_again(client: Any, path: str) -> None:
    """304 without content for the tag, weak or in a list, and for the star; 200 for another."""
    tag = client.get(path).headers["etag"]
    assert re.fullmatch(r'"[0-9a-f]{24}"', tag)
    for known in (tag, f"W/{tag}", f'"a", {tag}', f'W/"a" ,W/{tag},"b"', "*", " * "):
        for method in ("GET", "HEAD"):
            response = client.request(method, path, headers={"if-none-match": known})
            assert response.status_code == 304, known
            assert response.content == b""
            assert response.headers["etag"] == tag
            assert "cache-control" in response.headers
            assert "content-type" not in response.headers
    for other in ('"a"', tag.strip('"'), f'W/"{tag[2:-1]}"', ""):
        assert client.get(path, headers={"if-none-match": other}).status_code == 200, other


def test_the_tag_follows_the_answer(client: Any) -> None:
    """Another answer has another tag, and the same answer the same."""
    one, two = client.get(QUESTION), client.get(QUESTION.replace("0.15", "0.16"))
    assert one.headers["etag"] != two.headers["etag"]
    assert one.headers["etag"] == client.get(QUESTION).headers["etag"]


@pytest.mark.parametrize("path", READABLE)
def test_how_long_an_answer_may_be_kept(client: Any, path: str) -> None:
    """What is the same for everybody may be kept an hour; health, problems and POST are not kept."""
    expected = "no-store" if path == "/healthz" else "public, max-age=3600"
    assert client.get(path).headers["cache-control"] == expected


def test_what_is_not_kept(client: Any, post: Any) -> None:
    """No problem and no answer to POST is kept."""
    for response in (
        client.get("/v1/nothing"),
        client.get(f"/v1/{ANY.id}"),
        post(f"/v1/{ANY.id}", ANY.example),
        post("/v1/batch", {"items": [{"question": ANY.id, "ask": ANY.example}]}),
        client.options(f"/v1/{ANY.id}"),
    ):
        assert response.headers["cache-control"] == "no-store"


@pytest.mark.parametrize(
    "path", [*READABLE, "/v1/batch", "/v1/nothing", "/nothing", f"/v1/{ANY.id}"]
)
@pytest.mark.parametrize("method", ["GET", "HEAD", "POST", "OPTIONS", "PUT"])
def test_every_answer_is_guarded(client: Any, path: str, method: str) -> None:
    """Each response, a problem too, has the headers that keep a browser from misusing it."""
    response = client.request(method, path)
    headers = response.headers
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["content-security-policy"] == "default-src 'none'; frame-ancestors 'none'"
    assert headers["access-control-allow-origin"] == "*"
    assert "etag" in headers["access-control-expose-headers"].lower()
    shows_the_way = response.status_code != 200
    assert ('rel="service-desc"' in headers.get("link", "")) is shows_the_way
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


def test_health(client: Any) -> None:
    """The service says that it is up, and which version it is."""
    assert client.get("/healthz").json() == {"status": "ok", "version": VERSION}
