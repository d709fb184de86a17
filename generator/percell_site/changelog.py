"""The page of changes and its feed: what changed in percell, and which published figures moved."""

import json
import re
from pathlib import Path
from typing import Any, NamedTuple
from xml.etree import ElementTree

from markdown import markdown

from percell_site.pages import render
from percell_site.printed import in_words, read_moves

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


def files(
    past: History, tables: list[dict[str, Any]], address: str, date: str
) -> dict[str, str | bytes]:
    """Return the page, its feed and the list of figures that moved, each by its path.

    Args:
        past: What changed.
        tables: The tables as they are now, for the words of their rows and columns.
        address: The address that the feed names, without a slash at its end.
        date: The day of the build, for a feed without an entry.
    """
    known = {table["id"]: table for table in tables}
    moved = [_change(change, known) for change in past.moved]
    return {
        "changelog.md": render("changelog.md.jinja", past=past, moved=moved),
        "changelog.xml": _feed(past, moved, address, date),
        "figures-moved.json": json.dumps(past.moved, ensure_ascii=False),
    }


def _change(change: dict[str, Any], known: dict[str, dict[str, Any]]) -> dict[str, Any]:
    """Return a change of published figures with its moves by table."""
    words = {name: in_words(table) for name, table in known.items()}
    tables: dict[str, list[str]] = {}
    for table, row, column, before, to in change["moves"]:
        rows, columns = words.get(table, ({}, {}))
        # what is printed no more has only its names
        place = f"{rows.get(row, f'`{row}`')}, {columns.get(column, f'`{column}`')}"
        now = "no longer printed" if to is None else _said(to)
        tables.setdefault(table, []).append(f"{place}: {_said(before)} → {now}")
    return change | {
        "tables": [
            {
                "id": table,
                "title": known[table]["title"] if table in known else table,
                "moves": moves[:_SHOWN],
                "more": len(moves) - _SHOWN,
            }
            for table, moves in tables.items()
        ]
    }


def _said(figure: str) -> str:
    """Return a figure as it is kept, with its verdict in words."""
    text, *verdict = (part.replace("_", " ") for part in figure.split(" "))
    return f"{text} ({verdict[0]})" if verdict else text


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
