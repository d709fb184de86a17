"""What the operator says of this service: where it is, and who answers for it."""

import os


def site_address() -> str:
    """Return the address of the service without a slash at its end, or nothing if it is not told.

    It is never the host of a request: that can be forged, and caches would keep it.
    """
    return os.environ.get("PERCELL_SITE_URL", "").rstrip("/")


def contact() -> str:
    """Return whom to tell of a defect: an address of a page or of mail, or nothing if it is not told."""
    return os.environ.get("PERCELL_CONTACT", "")
