"""The look of the pages: the site's own sheets, as one."""

from functools import cache
from pathlib import Path

_PACKAGED = Path(__file__).parents[2] / "look"
_CHECKED_OUT = Path(__file__).parents[4] / "site"
_SHEETS = ("tokens.css", "plain.css", "forms.css")


@cache
def style() -> bytes:
    """Return the sheets."""
    return "\n".join(_file(name, "docs/assets") for name in _SHEETS).encode()


@cache
def mark() -> str:
    """Return the sign of the site, as SVG."""
    return _file("mark.svg", "theme/.icons/percell")


def _file(name: str, folder: str) -> str:
    """Return a file of the site: from the package, or else from the checkout."""
    packaged = _PACKAGED / name
    file = packaged if packaged.is_file() else _CHECKED_OUT / folder / name
    return file.read_text("utf-8")
