"""Paths that a stranger may try on any host (RFC 8615): the catalogue of its APIs, and whom to tell of a fault."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

from percell.web.address import configured_contact, site_address
from percell.web.index import DOCUMENT, GUIDE
from percell.web.resource import JSON, Representation, Resource, encode

LINKSET = b"application/linkset+json"
# RFC 9727, section 4.2
_PROFILE = b'; profile="https://www.rfc-editor.org/info/rfc9727"'
_CATALOG = "/.well-known/api-catalog"
# a contact that nobody has confirmed for a year is worse than none (RFC 9116, section 2.5.5)
_CONTACT_HOLDS = timedelta(days=365)


def well_known_resources() -> list[Resource]:
    """Return the resources of these paths. There is no security.txt if nobody can be told.

    Raises:
        ValueError: ``PERCELL_CONTACT`` is no address.
    """
    address = site_address()
    found = [_resource(_CATALOG, encode(api_catalog(address)), LINKSET, _PROFILE)]
    if contact := configured_contact():
        text = security_txt(contact, address).encode()
        found.append(
            _resource("/.well-known/security.txt", text, b"text/plain", b"; charset=utf-8")
        )
    return found


def _resource(path: str, body: bytes, media: bytes, parameters: bytes) -> Resource:
    links = ((b"link", f'<{_CATALOG}>; rel="api-catalog"'.encode()),) if media == LINKSET else ()
    answer = Representation(body, media + parameters, links)
    return Resource(path, get=lambda _: answer, produces=media)


def api_catalog(address: str) -> dict[str, object]:
    """Return the catalogue of the host's APIs as a set of links (RFC 9727, RFC 9264).

    Args:
        address: Where the host is, without a slash at its end; empty if that is not known.
    """
    here = f"{address}/v1"
    json, page = JSON.decode(), "text/html"
    return {
        "linkset": [
            {"anchor": address + _CATALOG, "item": [{"href": here}]},
            {
                "anchor": here,
                "service-desc": [{"href": address + DOCUMENT, "type": json}],
                "service-doc": [{"href": address + GUIDE, "type": page}],
                "status": [{"href": f"{address}/healthz", "type": json}],
            },
        ]
    }


def security_txt(contact: str, address: str) -> str:
    """Return whom to tell of a fault that can harm someone (RFC 9116)."""
    installed = datetime.fromtimestamp(Path(__file__).stat().st_mtime, UTC)
    expires = (installed + _CONTACT_HOLDS).replace(microsecond=0)
    lines = [
        f"Contact: {contact}",
        f"Expires: {expires:%Y-%m-%dT%H:%M:%SZ}",
        "Preferred-Languages: en",
    ]
    if address:
        lines.append(f"Canonical: {address}/.well-known/security.txt")
    return "\n".join(lines) + "\n"
