"""The HTML of every page, read by the Nu HTML checker."""

import json
import subprocess
from pathlib import Path

import httpx
import pytest

# what may stay: how its message begins, what is in the place, and why
EXPECTED = [
    (
        "Attribute “autocomplete” is only allowed when the input type is",
        'class="md-toggle"',
        "the theme's boxes for contents and search: without it Firefox opens them again on reload",
    ),
    (
        "Resource violates Content Security Policy (meta tag): external",
        "=",
        "the policy allows the site's own host, and files have none; a browser is asked elsewhere",
    ),
    (
        "Inline script violates Content Security Policy (meta tag)",
        'type="application/json"',
        "data, which no browser runs",
    ),
]


@pytest.fixture(scope="module")
def said(tool, npm_file):
    """A function that returns what the checker says of the pages in a folder."""
    jar = npm_file("vnu-jar", "build", "dist", "vnu.jar")
    command = [tool("java"), "-jar", jar, "--skip-non-html", "--format", "json"]

    def read(folder):
        run = [*command, "--exit-zero-always", folder]
        checked = subprocess.run(run, capture_output=True, check=True)
        return json.loads(checked.stderr)["messages"]

    return read


def test_the_html_checker_finds_nothing(said, site):
    """Every page keeps the rules of HTML, but for what is known of the theme and of the checker."""
    ours, seen = {}, set()
    for one in said(site):
        place = one.get("extract", "")
        known = [
            message
            for message, part, _ in EXPECTED
            if one["message"].startswith(message) and part in place
        ]
        seen.update(known)
        if not known:
            ours.setdefault(one["message"], f"{one['url']}:{one.get('lastLine')}: {place}")
    assert not ours
    # what is not found any more goes from the list; and a checker that read nothing is noticed
    assert seen == {message for message, _, _ in EXPECTED}


def test_forms_and_answers_are_html(said, address, asked_addresses, tmp_path):
    """So does each form, each answer, and each page that says what is wrong."""
    statuses = set()
    with httpx.Client(base_url=address) as client:
        for number, path in enumerate(asked_addresses):
            answer = client.get(path, headers={"Accept": "text/html"})
            statuses.add(answer.status_code)
            (tmp_path / f"{number}.html").write_text(answer.text, "utf-8")
    assert {200, 400, 404} <= statuses
    assert [(asked_addresses[int(Path(one["url"]).stem)], one) for one in said(tmp_path)] == []
