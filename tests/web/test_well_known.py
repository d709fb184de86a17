"""What a stranger finds on any host: the catalogue of its APIs, and whom to tell of a fault."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from litestar.testing import TestClient

from percell.web.app import create_app

CATALOG = "/.well-known/api-catalog"
SECURITY = "/.well-known/security.txt"
Served = Callable[..., Any]


@pytest.fixture
def served(monkeypatch: pytest.MonkeyPatch) -> Served:
    """Return a way to serve the API as an operator has configured it."""

    @contextmanager
    def serve(**settings: str) -> Iterator[Any]:
        for name in ("PERCELL_SITE_URL", "PERCELL_CONTACT"):
            monkeypatch.delenv(name, raising=False)
        for name, value in settings.items():
            monkeypatch.setenv(name, value)
        with TestClient(create_app()) as caller:
            yield caller

    return serve


def test_the_catalogue_leads_to_the_document(served: Served) -> None:
    """The links are a linkset (RFC 9264) in the form that RFC 9727 names, and each of them answers."""
    with served() as caller:
        answer = caller.get(CATALOG)
        assert answer.headers["content-type"] == (
            'application/linkset+json; profile="https://www.rfc-editor.org/info/rfc9727"'
        )
        catalogue, api = answer.json()["linkset"]
        assert catalogue["anchor"] == CATALOG
        assert [item["href"] for item in catalogue["item"]] == [api["anchor"]] == ["/v1"]
        for link in (*catalogue["item"], *api["service-desc"], *api["status"]):
            assert caller.get(link["href"]).status_code == 200


def test_the_head_of_the_catalogue_names_it(served: Served) -> None:
    """RFC 9727 asks for a link to the catalogue in the answer to HEAD."""
    with served() as caller:
        answer = caller.head(CATALOG)
    assert answer.status_code == 200
    assert answer.headers["link"] == f'<{CATALOG}>; rel="api-catalog"'


def test_the_catalogue_has_whole_addresses_where_the_address_is_known(served: Served) -> None:
    """An address that the operator configures stands before each link, and no other does."""
    with served(PERCELL_SITE_URL="https://tables.example/") as caller:
        _, api = caller.get(CATALOG, headers={"host": "evil.example"}).json()["linkset"]
    assert api["anchor"] == "https://tables.example/v1"
    assert api["service-desc"][0]["href"] == "https://tables.example/openapi.json"
    assert api["service-doc"][0]["href"] == "https://tables.example/api/"


@pytest.mark.parametrize(
    "contact", ["mailto:bench@lantern.example", "https://lantern.example/safe"]
)
def test_security_txt_names_the_contact_of_the_operator(served: Served, contact: str) -> None:
    """The two fields that RFC 9116 requires are there, and the file is out of date within a year."""
    with served(PERCELL_CONTACT=contact, PERCELL_SITE_URL="https://tables.example") as caller:
        answer = caller.get(SECURITY)
    assert answer.headers["content-type"] == "text/plain; charset=utf-8"
    fields = dict(line.split(": ", 1) for line in answer.text.splitlines())
    assert fields["Contact"] == contact
    assert fields["Canonical"] == f"https://tables.example{SECURITY}"
    left = datetime.fromisoformat(fields["Expires"]) - datetime.now(UTC)
    assert left <= timedelta(days=365)


def test_without_a_contact_there_is_no_security_txt(served: Served) -> None:
    """Nobody is named who was not asked."""
    with served() as caller:
        assert caller.get(SECURITY).status_code == 404


@pytest.mark.parametrize(
    "contact",
    [
        "bench@lantern.example",
        "http://lantern.example/",
        "mailto:nobody",
        "https://a b",
        "https://x\nContact: y",
    ],
)
def test_a_contact_that_is_no_address_is_refused(served: Served, contact: str) -> None:
    """The operator is told before anyone reads the file."""
    with pytest.raises(ValueError, match="PERCELL_CONTACT"), served(PERCELL_CONTACT=contact):
        pass
