"""The page of changes and its feed: what changed in percell, and which published figures moved."""

import json
import re
from pathlib import Path
from typing import Any, NamedTuple
from xml.etree import ElementTree

from markdown import markdown

from percell_site.pages import render
from percell_site.printed import read_moves

_ATOM = "http://www.w3.org/2005/Atom"
# moves of a table that the page shows; the file has them all
_SHOWN = 20
_VERSION = re.compile(r"^## (.+?)(?:[ ,–-]+(\d{4}-\d{2}-\d{2}))?$", re.MULTILINE)


class Version(NamedTuple):
    """What changed in one version. It has no date before it is released."""

    name: str
    date: str
    text: str


class History(NamedTuple):
    """What changed: by version, and by figure. The latest comes first."""

    intro: str
    versions: list[Version]
    moved: list[dict[str, Any]]


def read(source: Path) -> History:
    """Return the history that lies beside the sources of the site."""
    text = (source.parent / "CHANGELOG.md").read_text("utf-8")
    return history(text, read_moves(source / "figures"))


def history(text: str, moved: list[dict[str, Any]]) -> History:
    """Return the history from the text of the changelog and the list of figures that moved."""
    intro, *parts = _VERSION.split(text)
    versions = [
        Version(name, date or "", body.strip())
        for name, date, body in zip(parts[::3], parts[1::3], parts[2::3], strict=True)
    ]
    return History(intro.partition("\n")[2].strip(), versions, moved)


def files(past: History, titles: dict[str, str], address: str, date: str) -> dict[str, str | bytes]:
    """Return the page, its feed and the list of figures that moved, each by its path.

    Args:
        past: What changed.
        titles: The title of each table, by its id.
        address: The address that the feed names, without a slash at its end.
        date: The day of the build, for a feed without an entry.
    """
    moved = [_change(change, titles) for change in past.moved]
    return {
        "changelog.md": render("changelog.md.jinja", past=past, moved=moved),
        "changelog.xml": _feed(past, moved, address, date),
        "figures-moved.json": json.dumps(past.moved, ensure_ascii=False),
    }


def _change(change: dict[str, Any], titles: dict[str, str]) -> dict[str, Any]:
    """Return a change of published figures with its moves by table."""
    tables: dict[str, list[str]] = {}
    for table, row, column, before, to in change["moves"]:
        now = "no longer printed" if to is None else to
        tables.setdefault(table, []).append(f"`{row}`, `{column}`: {before} → {now}")
    return change | {
        "tables": [
            {
                "id": table,
                "title": titles.get(table, table),
                "moves": moves[:_SHOWN],
                "more": len(moves) - _SHOWN,
            }
            for table, moves in tables.items()
        ]
    }


def _feed(past: History, moved: list[dict[str, Any]], address: str, date: str) -> bytes:
    """Return the feed (RFC 4287): an entry per release, and one per change of published figures."""
    page = f"{address}/changelog/"
    entries = [
        (version.date, version.name, f"percell {version.name}", markdown(version.text))
        for version in past.versions
        if version.date
    ]
    entries += [
        (
            change["date"],
            f"figures-{number}",
            f"Published figures moved: {len(change['moves'])}",
            markdown(render("moved.md.jinja", change=change, up=f"{address}/")),
        )
        # the oldest is the first, so that a newer one renames none
        for number, change in zip(range(len(moved), 0, -1), moved, strict=True)
    ]
    entries.sort(key=lambda entry: entry[0], reverse=True)
    feed = ElementTree.Element("feed", xmlns=_ATOM)
    _add(feed, "id", page)
    _add(feed, "title", "Changes of percell")
    _add(feed, "updated", _moment(entries[0][0] if entries else date))
    _add(_add(feed, "author"), "name", "The percell maintainers")
    _add(feed, "link", href=page)
    _add(feed, "link", rel="self", href=f"{address}/changelog.xml")
    for day, name, title, content in entries:
        entry = _add(feed, "entry")
        _add(entry, "id", f"{page}#{name}")
        _add(entry, "title", title)
        _add(entry, "updated", _moment(day))
        _add(entry, "link", href=page)
        _add(entry, "content", content, type="html")
    ElementTree.indent(feed)
    found: bytes = ElementTree.tostring(feed, "utf-8", xml_declaration=True)
    return found


def _add(
    parent: ElementTree.Element, name: str, text: str = "", **attributes: str
) -> ElementTree.Element:
    child = ElementTree.SubElement(parent, name, attributes)
    child.text = text or None
    return child


def _moment(date: str) -> str:
    return f"{date}T00:00:00Z"
