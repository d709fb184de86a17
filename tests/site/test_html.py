"""The HTML of every page, read by the Nu HTML checker."""

import json
import subprocess

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


def test_the_html_checker_finds_nothing(site, tool, npm_file):
    """Every page keeps the rules of HTML, but for what is known of the theme and of the checker."""
    jar = npm_file("vnu-jar", "build", "dist", "vnu.jar")
    command = [tool("java"), "-jar", jar, "--skip-non-html", "--format", "json"]
    checked = subprocess.run(
        [*command, "--exit-zero-always", site], capture_output=True, check=True
    )
    ours, seen = {}, set()
    for one in json.loads(checked.stderr)["messages"]:
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
