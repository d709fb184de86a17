"""Content codings (RFC 9110 section 8.4): which one a client takes, and bodies in it.

DEVELOPERS.md has the measurements behind the sizes and the levels.
"""

import zlib
from functools import lru_cache

import brotli

GZIP, BROTLI = b"gzip", b"br"
# bytes: a smaller body fits into two packets as it is
LEAST = 2000
# bytes: from here brotli is both smaller and faster, and the work is too long for the event loop
LARGE = 64 * 1024
_GZIP_LEVEL, _BROTLI_LEVEL = 4, 5
_GZIP_KEPT, _BROTLI_KEPT = 9, 11
# the ending of a file that was compressed ahead
ENDINGS = {BROTLI: ".br", GZIP: ".gz"}
_WITH_GZIP_HEADER = 31


def chosen(accept_encoding: bytes, size: int) -> bytes:
    """Return the coding for a body of a size: empty if the client takes none, or the body gains nothing."""
    if size < LEAST:
        return b""
    ours = (BROTLI, GZIP) if size >= LARGE else (GZIP, BROTLI)
    weights = accepted(accept_encoding)
    best = max(ours, key=lambda one: weights[one])
    return best if weights[best] else b""


@lru_cache(maxsize=256)  # clients send few different ones
def accepted(accept_encoding: bytes) -> dict[bytes, float]:
    """Return how much a client likes each of our codings; 0 means not at all (section 12.5.3)."""
    named: dict[bytes, float] = {}
    for part in accept_encoding.lower().split(b","):
        name, _, parameters = part.partition(b";")
        weight = parameters.strip().removeprefix(b"q=").strip()
        try:
            named[name.strip()] = float(weight) if weight else 1.0
        except ValueError:
            named[name.strip()] = 0.0
    other = named.get(b"*", 0.0)
    return {one: named.get(one, other) for one in (GZIP, BROTLI)}


def compressed(body: bytes, coding: bytes, *, kept: bool = False) -> bytes:
    """Return a body in a coding. What is kept and sent again is compressed harder."""
    if coding == BROTLI:
        packed: bytes = brotli.compress(body, quality=_BROTLI_KEPT if kept else _BROTLI_LEVEL)
        return packed
    packer = zlib.compressobj(_GZIP_KEPT if kept else _GZIP_LEVEL, zlib.DEFLATED, _WITH_GZIP_HEADER)
    return packer.compress(body) + packer.flush()
