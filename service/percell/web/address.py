"""What the operator says of this service: where it is, and who answers for it."""

import os
from urllib.parse import urlsplit


def site_address() -> str:
    """Return the address of the service without a slash at its end, or nothing if it is not told.

    It is never the host of a request: that can be forged, and caches would keep it.
    """
    return os.environ.get("PERCELL_SITE_URL", "").rstrip("/")


def refuse_bad_address() -> None:
    """Refuse an address of the service that would break its links, all of which start at the host.

    Raises:
        ValueError: ``PERCELL_SITE_URL`` is no address of a host, or has a path.
    """
    url = site_address()
    if not url:
        return
    parts = urlsplit(url)
    if parts.scheme not in ("http", "https") or not parts.hostname or parts.username:
        raise ValueError(
            f"PERCELL_SITE_URL is {url!r}: give an address such as https://example.org/"
        )
    if parts.path or parts.query or parts.fragment:
        raise ValueError(
            f"PERCELL_SITE_URL is {url!r}: percell must have a host of its own, without a path"
        )


def contact() -> str:
    """Return whom to tell of a defect: an address of a page or of mail, or nothing if it is not told."""
    return os.environ.get("PERCELL_CONTACT", "")
