"""Which scripts and styles a page may run (Content Security Policy): its host's, and its own inline ones.

A page names the hashes of its inline parts itself, in a ``<meta>``, for hosts that send no header. The
service sends the policy of all pages together, without their styles: those would be a kilobyte for each
response.
"""

import re
from base64 import b64encode
from collections.abc import Iterable
from hashlib import sha256
from html import unescape

# where the service finds the header
FILE = "percell-policy.txt"
_SCRIPT = re.compile(r"<script>(.+?)</script>", re.DOTALL)
_STYLE = re.compile(r"<style[^>]*>(.+?)</style>", re.DOTALL)
_STYLE_ATTRIBUTE = re.compile(r'\sstyle="([^"]*)"')
_CHARSET = '<meta charset="utf-8">'
_REST = "img-src 'self' data:; object-src 'none'; base-uri 'self'"


def scripts(page: str) -> set[str]:
    """Return the hashes of a page's inline scripts."""
    return {_hash(text) for text in _SCRIPT.findall(page)}


def guarded(page: str) -> str:
    """Return a page that names its own policy. What comes before that is not held to it."""
    attributes = {_hash(unescape(text)) for text in _STYLE_ATTRIBUTE.findall(page)}
    # a drawing is read as XML, so its style may have entities
    styles = {_hash(unescape(text)) for text in _STYLE.findall(page)} | attributes
    policy = "; ".join(
        [
            "default-src 'self'",
            _sources("script-src", scripts(page)),
            _sources("style-src", styles) + (" 'unsafe-hashes'" if attributes else ""),
            _REST,
        ]
    )
    meta = f'<meta http-equiv="Content-Security-Policy" content="{policy}">'
    return page.replace(_CHARSET, _CHARSET + meta, 1)


def header(hashes: Iterable[str]) -> str:
    """Return the policy of all pages, with the hashes of their inline scripts."""
    return "; ".join(
        [
            "default-src 'self'",
            _sources("script-src", hashes),
            "style-src 'self' 'unsafe-inline'",
            _REST,
            "frame-ancestors 'self'",
        ]
    )


def _sources(directive: str, hashes: Iterable[str]) -> str:
    return " ".join([directive, "'self'", *sorted(hashes)])


def _hash(text: str) -> str:
    return f"'sha256-{b64encode(sha256(text.encode()).digest()).decode()}'"
