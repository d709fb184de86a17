"""The HTML of every page, read by the Nu HTML checker."""

import json
import subprocess

# what the checker says of the theme's own HTML, and why that stays
OF_THE_THEME = {
    "Attribute “autocomplete” is only allowed when the input type is": (
        "the two boxes that open the contents and the search: without it Firefox opens them again on reload"
    ),
}


def test_the_html_checker_finds_nothing(site, tool, npm_file):
    """Every page keeps the rules of HTML, but for what is known of the theme."""
    jar = npm_file("vnu-jar", "build", "dist", "vnu.jar")
    checked = subprocess.run(
        [tool("java"), "-jar", jar, "--skip-non-html", "--format", "json", "--exit-zero-always", site],
        capture_output=True,
        check=True,
    )  # fmt: skip
    found = {}
    for one in json.loads(checked.stderr)["messages"]:
        said = f"{one['message']} {one.get('extract', '')}"
        found.setdefault(one["message"], f"{one['url']}:{one.get('lastLine')} {said}")
    ours = {
        message: where
        for message, where in found.items()
        if not any(message.startswith(known) for known in OF_THE_THEME)
    }
    assert not ours
    # a message that is not seen any more goes from the list, and a checker that read nothing is found out
    assert all(any(message.startswith(known) for message in found) for known in OF_THE_THEME)
