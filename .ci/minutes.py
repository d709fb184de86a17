"""Print how long each part of the tests took, from the report that pytest wrote: minutes.py REPORT."""

import sys
from collections import Counter
from xml.etree import ElementTree


def main() -> None:
    """Add up by folder, and for the site by file, because its tests drive browsers."""
    seconds: Counter[str] = Counter()
    for case in ElementTree.parse(sys.argv[1]).iter("testcase"):  # noqa: S314 - of our own run
        parts = case.get("classname", "").split(".")
        depth = 3 if parts[:2] == ["tests", "site"] else 2
        seconds["/".join(parts[:depth])] += float(case.get("time", 0))
    for part, taken in seconds.most_common():
        print(f"{taken / 60:6.1f} min  {part}")


main()
