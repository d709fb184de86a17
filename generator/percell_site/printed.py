"""Every figure that the tables print, kept beside them, so that a change shows which of them it moves."""

import json
from pathlib import Path
from typing import Any, NamedTuple

from percell_site.api import Api
from percell_site.figures import digits, verdict_on

# table, row, column and figure: its text with its verdict
Printed = dict[str, dict[str, dict[str, str]]]


class Move(NamedTuple):
    """A published figure that changes. Without ``to`` it is no longer printed."""

    table: str
    row: str
    column: str
    before: str
    to: str | None

    def __str__(self) -> str:
        to = "no longer printed" if self.to is None else self.to
        return f"{self.table}, {self.row}, {self.column}: {self.before} → {to}"


def printed(api: Api) -> Printed:
    """Return every figure that the tables print now."""
    return {
        entry["id"]: _figures(api.get_json(entry["json"]))
        for entry in api.get_json("/v1/tables")["tables"]
    }


def _figures(table: dict[str, Any]) -> dict[str, dict[str, str]]:
    columns = _columns(table)
    found: dict[str, dict[str, str]] = {}
    for row in table["rows"]:
        figures: dict[str, str] = {}
        for column, cell in zip(columns, row["cells"], strict=True):
            for i, shown in enumerate(table["prints"]):
                value = cell["values"][i]
                # by the API's word: a page's words for it move no figure
                text = value if isinstance(value, str) else digits(value, shown)
                figures[_name(column, shown)] = f"{text} {verdict_on(cell, i)}".rstrip()
        found[_row(table, row)] = figures
    return found


def in_words(table: dict[str, Any]) -> tuple[dict[str, str], dict[str, str]]:
    """Return the labels of a table's rows, and those of its columns with their figures, by the names kept here."""
    rows = {_row(table, row): row["label"] for row in table["rows"]}
    columns = {}
    for name, column in zip(_columns(table), table["columns"], strict=True):
        for shown in table["prints"]:
            unit = f" in {shown['unit']}" if shown["unit"] else ""
            said = ", ".join([*column["labels"], shown["heading"].lower() + unit])
            columns[_name(name, shown)] = said
    return rows, columns


def _columns(table: dict[str, Any]) -> list[str]:
    axes = [axis["field"] for axis in table["columns_by"]]
    # in one order, because columns that change places move no figure
    return [
        " ".join(sorted(_at(axis, value) for axis, value in zip(axes, one["values"], strict=True)))
        for one in table["columns"]
    ]


def _name(column: str, shown: dict[str, Any]) -> str:
    unit = f" [{shown['unit']}]" if shown["unit"] else ""
    return f"{column} {shown['field']}{unit}"


def _row(table: dict[str, Any], row: dict[str, Any]) -> str:
    return _at(table["rows_by"]["field"], row["value"])


def _at(field: str, value: float | str) -> str:
    # by value and not by label: a label in other words moves no figure
    return f"{field}={value if isinstance(value, str) else f'{value:g}'}"


def moves(before: Printed, after: Printed) -> list[Move]:
    """Return which of the figures before are others now, or are gone. New figures move nothing."""
    found = []
    for table, rows in before.items():
        for row, figures in rows.items():
            now = after.get(table, {}).get(row, {})
            found += [
                Move(table, row, column, text, now.get(column))
                for column, text in figures.items()
                if now.get(column) != text
            ]
    return found


def read(folder: Path) -> Printed:
    """Return the figures as they were last kept; none if they never were."""
    file = folder / "printed.json"
    return _whole(json.loads(file.read_text("utf-8"))) if file.is_file() else {}


def keep(folder: Path, now: Printed) -> None:
    """Keep the figures, a line per row, so that a diff of the file can be read."""
    tables = []
    for name, rows in now.items():
        columns = list(dict.fromkeys(column for figures in rows.values() for column in figures))
        lines = [
            f"   {_json(row)}: {_json([figures[column] for column in columns])}"
            for row, figures in rows.items()
        ]
        body = ",\n".join(lines)
        tables.append(f' {_json(name)}: {{"columns": {_json(columns)}, "rows": {{\n{body}\n }}}}')
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "printed.json").write_text("{\n" + ",\n".join(tables) + "\n}\n", "utf-8")


def _whole(kept: dict[str, Any]) -> Printed:
    return {
        name: {
            row: dict(zip(table["columns"], texts, strict=True))
            for row, texts in table["rows"].items()
        }
        for name, table in kept.items()
    }


def read_moves(folder: Path) -> list[dict[str, Any]]:
    """Return every change of published figures, the latest first."""
    file = folder / "moved.json"
    found: list[dict[str, Any]] = json.loads(file.read_text("utf-8")) if file.is_file() else []
    return found


def keep_moves(folder: Path, found: list[Move], *, date: str, version: str, because: str) -> None:
    """Put a change of published figures on top of the list, a line per figure."""
    entry = {"date": date, "version": version, "because": because, "moves": found}
    entries = []
    for one in [entry, *read_moves(folder)]:
        head = ", ".join(f'"{name}": {_json(one[name])}' for name in ("date", "version", "because"))
        lines = ",\n".join(f"  {_json(move)}" for move in one["moves"])
        entries.append(f' {{{head}, "moves": [\n{lines}\n ]}}')
    (folder / "moved.json").write_text("[\n" + ",\n".join(entries) + "\n]\n", "utf-8")


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False)
