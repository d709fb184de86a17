"""From the discharge logs of a cell to its profile, judged by the API."""

import csv
import json
from datetime import date
from pathlib import Path
from typing import Any

from percell_site.api import Api

_NEEDED = ("time_s", "voltage_v", "current_a")
_OPTIONAL = ("temperature_c",)


class LogError(ValueError):
    """A log cannot be read; the text names file, row and column."""


def read_log(path: Path) -> dict[str, Any]:
    """Return the columns of a CSV log: a line of names, then a line a sample.

    Raises:
        LogError: A column is missing, or a row is ragged or holds text where a number belongs.
    """
    with path.open(newline="", encoding="utf-8-sig") as file:
        reader = csv.DictReader(file, restkey="", restval="")
        names = [name.strip() for name in reader.fieldnames or []]
        reader.fieldnames = names
        missing = [name for name in _NEEDED if name not in names]
        if missing:
            raise LogError(f"{path.name}: no column is called {' or '.join(missing)}")
        kept = [name for name in (*_NEEDED, *_OPTIONAL) if name in names]
        columns: dict[str, Any] = {name: [] for name in kept}
        for number, row in enumerate(reader, start=1):
            if "" in row:
                raise LogError(f"{path.name}, row {number}: more fields than columns")
            for name in kept:
                columns[name].append(_number(row[name], path, number, name))
    return {"label": path.stem[:40]} | columns


def _number(text: str, path: Path, row: int, column: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise LogError(f"{path.name}, row {row}, {column}: {text!r} is no number") from None


def judge(api: Api, logs: list[dict[str, Any]], limits: dict[str, Any]) -> dict[str, Any]:
    """Ask the API what the logs say of the cell."""
    answer: dict[str, Any] = api.post("/v1/discharge-test", {"logs": logs} | limits)
    return answer


def profile_text(
    judged: dict[str, Any], *, name: str, chemistry: str, size: str, measured_on: date
) -> str:
    """Return the profile as TOML, from the API's answer to the logs.

    Raises:
        LogError: The logs do not carry a rating or a resistance.
    """
    profile = judged["profile"]
    for figure, why in (
        ("cell_rating_a", "no current kept the limits"),
        ("cell_resistance_ohm", "no step of current shows a resistance"),
    ):
        if figure not in profile:
            raise LogError(f"the logs give no {figure}: {why}")
    values = {
        "name": name,
        "chemistry": chemistry,
        "cell_size": size,
        "cell_rating_a": profile["cell_rating_a"],
        "cell_capacity_ah": round(profile["cell_capacity_ah"], 4),
        "cell_resistance_ohm": round(profile["cell_resistance_ohm"], 6),
        "measured_on": measured_on.isoformat(),
        "note": f"Judged from {len(judged['logs'])} discharge logs.",
    }
    # JSON's strings and numbers are TOML's
    lines = [
        f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in values.items() if value
    ]
    lines += [
        "# what the label claims, if you like it judged:",
        "# claimed_rating_a = 20",
        "# claimed_capacity_ah = 3.0",
    ]
    return "\n".join(lines) + "\n"
