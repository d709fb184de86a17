"""A chat bot that answers with what percell says. It needs Python alone.

    python chat_bot.py https://percell.example

It reads one line of chat after the other, and prints one message for each line that asks it:

    !coil 2S1P 25A 0.3      a coil for which the meter shows 0.3 Ω
    !power 2S1P 25A 80W     80 W behind a converter
"""

import json
import sys
from typing import Any
from urllib.error import HTTPError, URLError
from urllib.parse import urlencode, urljoin
from urllib.request import urlopen

USE = "Write !coil 2S1P 25A 0.3 (layout, rating of one cell, coil reading) or !power 2S1P 25A 80W."
# question, and its fields for the words
QUESTIONS = {
    "!coil": ("direct-load", ("layout", "cell_rating_a", "coil_reading_ohm")),
    "!power": ("converter-load", ("layout", "cell_rating_a", "output_power_w")),
}
UNITS = {"cell_rating_a": "A", "output_power_w": "W"}
# mildest first; a word that is not here came later, and counts as the worst
RANKS = {
    "none": 0,
    "note": 1,
    "caution": 2,
    "warning": 3,
    "within_limit": 0,
    "little_headroom": 2,
    "not_judged": 2,
    "over_limit": 3,
}
MARKS = ("", "Note. ", "CAUTION. ", "WARNING. ")


class Refused(Exception):
    """The service answers with a problem document."""


def fetch(address: str, path: str, fields: dict[str, str]) -> bytes:
    """Return what the service answers to a GET."""
    try:
        url = f"{urljoin(address, path)}?{urlencode(fields)}"
        with urlopen(url, timeout=10) as response:  # noqa: S310 - the operator names the address
            return bytes(response.read())
    except HTTPError as failed:
        if failed.headers.get_content_type() != "application/problem+json":
            raise
        raise Refused(faults(json.load(failed))) from failed


def faults(problem: dict[str, Any]) -> str:
    """Return every fault of a problem in one message."""
    lines = [f"No answer: {problem['title'].lower()}."]
    lines += [
        f"- {fault['pointer'].lstrip('/')}: {fault['detail']}"
        for fault in problem.get("errors", ())
    ]
    if len(lines) == 1:
        lines.append(problem["detail"])
    return "\n".join([*lines, f"(request {problem['request_id']})"])


def message(address: str, line: str) -> str | None:
    """Return the message to a line of chat, or None if the line does not ask the bot."""
    command, *words = line.split()
    if command not in QUESTIONS:
        return None
    if len(words) != 3:
        return USE
    question, names = QUESTIONS[command]
    # what is no number goes to the service as it is, which says so better than a bot
    fields = {
        name: word.removesuffix(UNITS.get(name, ""))
        for name, word in zip(names, words, strict=True)
    }
    try:
        answer = json.loads(fetch(address, f"/v1/short/{question}", fields))
        reply = fetch(address, f"/v1/reply/{question}", fields).decode()
    except Refused as refused:
        return str(refused)
    except (URLError, TimeoutError, ValueError):
        return "percell is away. No answer does not mean that it is allowed."
    rank = max(RANKS.get(word, 3) for word in (answer["attention"], answer.get("verdict", "none")))
    cautions = urljoin(address, answer["links"]["cautions"])
    return f"{MARKS[rank]}{answer['headline']}\nCautions: {cautions}\n\n{reply}"


def main() -> None:
    """Answer each line of the chat."""
    for line in sys.stdin:
        if line.strip() and (text := message(sys.argv[1], line)):
            print(text, end="\n---\n", flush=True)


if __name__ == "__main__":
    main()
