"""What the operator says of this service: where it is, and who answers for it."""

import os
import re

# a name in another script is written in its ASCII form, as a header needs it
HOST = r"(?:[A-Za-z0-9_.-]+|\[[0-9A-Fa-f:.]+\])"
_ADDRESS = re.compile(rf"https?://{HOST}(?::(\d{{1,5}}))?(/.*|\?.*|#.*)?", re.DOTALL)
_CONTACT = re.compile(r"(?:https://[^\s/]|mailto:[^\s@]+@)[^\s]+")


def site_address() -> str:
    """Return the address of the service without a slash at its end; empty if it is not known.

    It is never the host of a request, which anyone can forge and a cache would keep.
    """
    return os.environ.get("PERCELL_SITE_URL", "").rstrip("/")


def refuse_bad_address() -> None:
    """Refuse an address of the service that would break its links, all of which start at the host.

    Raises:
        ValueError: ``PERCELL_SITE_URL`` is no address of a host, or has a path.
    """
    url = site_address()
    if url and (fault := fault_of_address(url)):
        raise ValueError(f"PERCELL_SITE_URL is {url!r}: {fault}")


def fault_of_address(url: str) -> str:
    """Return what is wrong with the address of a service, as a request to its operator; nothing if it is right."""
    parts = _ADDRESS.fullmatch(url.rstrip("/"))
    if not parts or int(parts[1] or 0) > 65535:
        return "give an address such as https://example.org/"
    return "percell must have a host of its own, without a path" if parts[2] else ""


def configured_contact() -> str:
    """Return whom the operator wants to be told of a fault; empty if the operator names nobody.

    Raises:
        ValueError: That is neither a URL nor a mail address.
    """
    contact = os.environ.get("PERCELL_CONTACT", "")
    if contact and not _CONTACT.fullmatch(contact):
        raise ValueError(
            f"PERCELL_CONTACT is {contact!r}: give a URL that starts with https://, or "
            "mailto: and an address"
        )
    return contact
