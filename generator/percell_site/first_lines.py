"""What to do first when something happened, for a reader whose device has no other page."""

import re

from markdown import markdown

_LEFT_OUT = re.compile(
    r"\A---\n.*?\n---\n|^# [^\n]*$|^\{ [^}]* \}$|</?div[^>]*>|<span[^>]*>[^<]*</span>",
    re.DOTALL | re.MULTILINE,
)


def first_lines(page: str) -> str:
    """Return the beginning of the page about accidents as HTML: all before its second section.

    Args:
        page: The page as it was written, in Markdown.
    """
    beginning = "\n## ".join(page.split("\n## ")[:2])
    html: str = markdown(_LEFT_OUT.sub("", beginning))
    return html
