"""Lighthouse's four scores of a few pages, each the median of five runs, with what keeps a score from 100.

    python .ci/lighthouse.py                      # builds and serves this tree; needs npm and Chromium
    python .ci/lighthouse.py --runs 1 / /tables/  # other pages, in a hurry

It stands outside CI, because speed on a shared machine is luck: run it on an idle one. Lighthouse itself
simulates a slow phone. The exit status is 1 where a score is below 95. Run it in the Python that has percell.
"""

import argparse
import json
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median
from typing import Any

LIGHTHOUSE = "lighthouse@12.8.2"  # 13 needs Node 22
AIM = 95
ANSWER = "/ask/direct-load?layout=1S2P&cell_rating_a=20&coil_reading_ohm=0.2"
PAGES = ["/", "/tables/coil-current-and-power/", "/learn/layouts/", "/ask/direct-load", ANSWER]
# kept out of search engines on purpose; and their policy lets nothing be fetched from within, as Lighthouse
# fetches robots.txt
NOT_CRAWLED = "/ask/"


def measured(program: Path, url: str) -> dict[str, Any]:
    """Return the report of one run."""
    command = [
        program,
        url,
        "--output=json",
        "--quiet",
        "--chrome-flags=--headless=new --no-sandbox",
    ]
    if NOT_CRAWLED in url:
        command.append("--skip-audits=is-crawlable,robots-txt")
    chromium = {"CHROME_PATH": shutil.which("chromium") or ""}
    run = subprocess.run(  # noqa: S603 - what npm has installed
        command, env=os.environ | chromium, capture_output=True, check=True, timeout=300
    )
    report: dict[str, Any] = json.loads(run.stdout)
    return report


def told(path: str, reports: list[dict[str, Any]]) -> bool:
    """Print the medians and what is short of full marks in most of the runs; return whether the aim is reached."""
    names = reports[0]["categories"]
    scores = {
        name: round(100 * median(one["categories"][name]["score"] or 0 for one in reports))
        for name in names
    }
    print(path, *(f"{name} {score}" for name, score in scores.items()), sep="  ", flush=True)
    for name in names:
        for part in names[name]["auditRefs"]:
            marks = [one["audits"][part["id"]] for one in reports if part["weight"]]
            short = [one for one in marks if one["score"] is not None and one["score"] < 1]
            if 2 * len(short) > len(reports):
                value = short[0].get("displayValue", "")
                print(
                    f"    {name}: {short[0]['title']} {value} ({median(one['score'] for one in short):.2f})"
                )
    return min(scores.values()) >= AIM


def main() -> int:
    """Serve the tree, measure the pages, and say whether all reach the aim."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("pages", nargs="*", default=PAGES)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        npm = ["npm", "install", "--prefix", scratch, "--no-audit", "--no-fund", "--ignore-scripts"]
        subprocess.run([*npm, "--loglevel=error", LIGHTHOUSE], check=True)  # noqa: S603 - our own arguments
        program = Path(scratch, "node_modules", ".bin", "lighthouse")
        with socket.create_server(("127.0.0.1", 0)) as listener:
            port = listener.getsockname()[1]
        site = Path(scratch, "site")
        serve = [sys.executable, "-m", "percell", "serve", f"--port={port}", f"--site={site}"]
        with subprocess.Popen(serve, stderr=subprocess.DEVNULL) as server:  # noqa: S603 - our own program
            try:
                while not (site / "index.html").exists():
                    time.sleep(0.5)
                reached = True
                for path in asked.pages:
                    url = f"http://127.0.0.1:{port}{path}"
                    runs = [measured(program, url) for _ in range(asked.runs)]
                    reached = told(path, runs) and reached
            finally:
                server.terminate()
    return 0 if reached else 1


sys.exit(main())
