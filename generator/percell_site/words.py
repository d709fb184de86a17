"""Words as sentences list them."""

from collections.abc import Iterable


def listed(words: Iterable[str]) -> str:
    """Return words as a sentence lists them: a, b and c."""
    *first, last = words
    return " and ".join(filter(None, [", ".join(first), last]))
