"""What a client accepts, what it sends, and what it already holds (RFC 9110 sections 8.3, 12 and 13)."""

import re
from collections.abc import Sequence

from litestar.datastructures import Accept

# "q=0" and its longer forms
_WEIGHT_ZERO = re.compile(r";\s*q=0(\.0*)?\s*(;|$)", re.IGNORECASE)


def accepts(accept: bytes, media: bytes) -> bool:
    """Return whether an Accept header accepts a media type."""
    # each one once: Litestar takes 40 ms for thousands of stars
    ranges = [r for r in dict.fromkeys(accept.decode("latin-1").split(",")) if r.strip()]
    # Litestar reads a weight of zero as a low weight; by RFC 9110 section 12.4.2 it excludes
    excluded = [r.partition(";")[0].strip() for r in ranges if _WEIGHT_ZERO.search(r)]
    liked = ",".join(r for r in ranges if not _WEIGHT_ZERO.search(r))
    named = media.decode()
    return bool(liked) and named not in excluded and Accept(liked).best_match([named]) is not None


def is_media_of_body(content_type: bytes, known: Sequence[bytes]) -> bool:
    """Return whether a Content-Type names one of the known media types. The text must be UTF-8."""
    if content_type in known:
        return True
    media, _, parameters = content_type.lower().partition(b";")
    charset = parameters.strip().replace(b'"', b"")
    return media.strip() in known and charset in (b"", b"charset=utf-8")


def holds(if_none_match: bytes, tag: bytes) -> bool:
    """Return whether an If-None-Match header names a tag. The comparison is weak (section 13.1.2)."""
    return if_none_match.strip() == b"*" or tag in (
        candidate.strip().removeprefix(b"W/") for candidate in if_none_match.split(b",")
    )
