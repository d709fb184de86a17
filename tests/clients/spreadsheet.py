"""A spreadsheet that asks percell: a file of packs in, the same file with answers out.

    python spreadsheet.py https://percell.example < packs.csv > answers.csv

The first line of the file has names of fields of ``direct-load``, each line below one pack. What is read is
what the import of a spreadsheet or of a stats program reads: an address whose answer is CSV.
"""

import csv
import sys
from collections.abc import Iterator
from urllib.parse import urlencode

import httpx

# what goes beside the packs: figures never without their verdict, condition and caution
SHOWN = [
    "worst_cell_current_a",
    "verdict",
    "attention",
    "headline",
    "version",
    "caution",
    "problem",
]


def import_data(address: str) -> list[dict[str, str]]:
    """Return the lines of CSV at an address, each by the names of the first line."""
    response = httpx.get(address, timeout=30)
    if response.headers["content-type"].startswith("application/problem+json"):
        problem = response.json()
        raise ValueError(
            "; ".join(f"{e['pointer']}: {e['detail']}" for e in problem.get("errors", ()))
            or problem["detail"]
        )
    response.raise_for_status()
    return list(csv.DictReader(response.text.splitlines(), strict=True))


def filled(address: str, packs: Iterator[dict[str, str]]) -> Iterator[dict[str, str]]:
    """Yield each pack with its answer, or with what is wrong with it."""
    for pack in packs:
        given = {name: value for name, value in pack.items() if value}
        try:
            (answer,) = import_data(f"{address}/v1/csv/direct-load?{urlencode(given)}")
        except ValueError as wrong:
            answer = {"problem": str(wrong), "verdict": "no answer"}
        yield pack | {name: answer.get(name, "") for name in SHOWN}


def main() -> None:
    """Fill the sheet."""
    packs = csv.DictReader(sys.stdin)
    sheet = csv.DictWriter(sys.stdout, [*(packs.fieldnames or ()), *SHOWN], lineterminator="\n")
    sheet.writeheader()
    sheet.writerows(filled(sys.argv[1], packs))


if __name__ == "__main__":
    main()
