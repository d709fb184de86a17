"""Ask a deployment the questions of the conformance kit, and say each difference from its answers.

It needs nothing but Python, so an integrator can also run this file alone:
``python conformance.py URL conformance.jsonl``.
"""

import json
import math
import re
import sys
from collections.abc import Iterator
from http.client import HTTPException
from itertools import zip_longest
from pathlib import Path
from typing import Any
from urllib.error import HTTPError, URLError
from urllib.parse import urlsplit
from urllib.request import Request, urlopen

# the last digits of a number depend on the machine
RELATIVE, ABSOLUTE = 1e-9, 1e-12
TIMEOUT_S = 60
# a deployment says its own address in links
_ADDRESS = re.compile(r"https?://[^/\s\"')\]]+(?=/)")
# each request has a new one
_OWN = frozenset({"request_id"})
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?")


class NoDeployment(Exception):
    """Nothing answers at the address."""


def read(kit: Path) -> tuple[str, list[dict[str, Any]]]:
    """Return the version that a kit is of, and its requests."""
    head, *lines = map(json.loads, kit.read_text("utf-8").splitlines())
    version: str = head["version"]
    return version, lines


def check(url: str, lines: list[dict[str, Any]]) -> Iterator[tuple[str, list[str]]]:
    """Send each request of a kit to a deployment; yield its name and how the answer differs.

    Raises:
        NoDeployment: Nothing answers there.
    """
    answers: dict[str, Any] = {}
    for line in lines:
        expected = answers[line["like"]] if "like" in line else line["answer"]
        answers[line["id"]] = expected
        status, media, text = _ask(url.rstrip("/"), line)
        yield line["id"], [*_differing(line, expected, status, media, text)]


def _ask(url: str, line: dict[str, Any]) -> tuple[int, str, str]:
    if urlsplit(url).scheme not in ("http", "https"):
        raise NoDeployment(f"{url} is not a URL that starts with http:// or https://")
    body = line.get("body")
    request = Request(  # noqa: S310 - the scheme is checked above
        url + line["path"],
        data=None if body is None else body.encode(),
        headers=line.get("headers", {}),
        method=line["method"],
    )
    try:
        with urlopen(request, timeout=TIMEOUT_S) as response:  # noqa: S310 - as above
            return _read(response)
    except HTTPError as error:
        with error:
            return _read(error)
    except (URLError, HTTPException, OSError) as error:
        raise NoDeployment(f"{url} does not answer: {error}") from error


def _read(response: Any) -> tuple[int, str, str]:
    media = response.headers.get("content-type", "").partition(";")[0]
    return response.status, media, response.read().decode("utf-8", "replace")


def _differing(
    line: dict[str, Any], expected: Any, status: int, media: str, text: str
) -> Iterator[str]:
    if status != line["status"]:
        yield f"status: {line['status']} expected, {status} found"
    if media != line["media"]:
        yield f"media type: {line['media']} expected, {media} found"
        return
    found: Any = text
    if media.endswith("json"):
        try:
            found = without_own(json.loads(text))
        except ValueError:
            yield "the answer is not JSON"
            return
    yield from differences(expected, found)


def differences(expected: Any, found: Any, at: str = "") -> Iterator[str]:
    """Yield where two answers differ, each place as a JSON pointer or as a line of a text.

    Numbers may differ by a billionth, also inside a text.
    """
    if isinstance(expected, dict) and isinstance(found, dict):
        for name in [*expected, *(name for name in found if name not in expected)]:
            place = f"{at}/{name}"
            if name not in found:
                yield f"{place}: missing"
            elif name not in expected:
                yield f"{place}: not expected"
            else:
                yield from differences(expected[name], found[name], place)
    elif isinstance(expected, list) and isinstance(found, list):
        if len(expected) != len(found):
            yield f"{at}: {len(expected)} entries expected, {len(found)} found"
        for number, (one, other) in enumerate(zip(expected, found, strict=False)):
            yield from differences(one, other, f"{at}/{number}")
    elif isinstance(expected, str) and isinstance(found, str) and "\n" in expected + found:
        pairs = zip_longest(expected.splitlines(), found.splitlines())
        for number, (line, other_line) in enumerate(pairs, 1):
            if not _same(line, other_line):
                yield f"{at} line {number}: {_short(line)} expected, {_short(other_line)} found".lstrip()
    elif not _same(expected, found):
        yield f"{at or 'the answer'}: {_short(expected)} expected, {_short(found)} found"


def _same(expected: Any, found: Any) -> bool:
    if isinstance(expected, str) and isinstance(found, str):
        return _same_text(_ADDRESS.sub("", expected), _ADDRESS.sub("", found))
    if isinstance(expected, bool) or isinstance(found, bool):
        return expected is found
    if isinstance(expected, int | float) and isinstance(found, int | float):
        return math.isclose(expected, found, rel_tol=RELATIVE, abs_tol=ABSOLUTE)
    return type(expected) is type(found) and bool(expected == found)


def _same_text(expected: str, found: str) -> bool:
    return expected == found or (
        _NUMBER.split(expected) == _NUMBER.split(found)
        and all(
            _same(float(one), float(other))
            for one, other in zip(_NUMBER.findall(expected), _NUMBER.findall(found), strict=True)
        )
    )


def without_own(answer: Any) -> Any:
    """Return an answer without what each request has of its own."""
    if isinstance(answer, dict):
        return {name: without_own(part) for name, part in answer.items() if name not in _OWN}
    return [without_own(part) for part in answer] if isinstance(answer, list) else answer


def _short(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 200 else f"{text[:200]} …"


def report(url: str, kit: Path) -> int:
    """Print each difference of a deployment from a kit, and return how many requests differ."""
    version, lines = read(kit)
    failed = 0
    for name, found in check(url, lines):
        failed += bool(found)
        for one in found:
            print(f"{name}: {one}")
    if failed:
        print(f"{failed} of {len(lines)} requests are answered otherwise than by percell {version}")
    else:
        print(f"all {len(lines)} requests are answered as by percell {version}")
    return failed


if __name__ == "__main__":
    try:
        sys.exit(1 if report(sys.argv[1], Path(sys.argv[2])) else 0)
    except NoDeployment as nothing:
        sys.exit(f"Error: {nothing}")
