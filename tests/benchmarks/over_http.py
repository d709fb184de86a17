"""Requests a second and p99 of one question over HTTP, against other ways to write its endpoint.

    python -m venv .venv && .venv/bin/pip install . -r tests/benchmarks/requirements.txt
    .venv/bin/python tests/benchmarks/over_http.py [QUESTION ...]

Needs wrk and taskset, and two cores: one for the server, one for the load. All servers stay up and
take turns in every round, so that what else the machine does falls on all of them alike: a ratio is
the median over the rounds of the ratio within a round. The targets look at the processor time that a
request costs the server: on a core of its own the server is the bottleneck and the two ratios are
one, but when other work has the core too, requests a second jump about and processor time does not.
The answer itself costs all contestants the same, and the longer it takes, the closer the ratios come
to one. So the main target is about what a contestant adds to the bare application.
Loopback only; stops by itself after about four and a half minutes a question. Prints Markdown rows; exit
code 1 where a target is missed.
"""

import argparse
import json
import os
import random
import socket
import subprocess
import sys
import time
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import replace
from pathlib import Path
from statistics import median
from typing import Any, NamedTuple
from urllib.parse import urlencode

import httpx
from report import Target, rows_and_verdict

from percell.questions.answering.question import Question
from percell.questions.registry import QUESTIONS

HERE = Path(__file__).parent
CONNECTIONS = 32
SERVER_CORE, LOAD_CORE = "0", "1"


# as `percell serve` runs it: percell.serve has the settings
SERVE = "uvicorn as percell serves"
STOCK = "uvicorn as it comes"


class Contestant(NamedTuple):
    """A server, and how it is started."""

    name: str
    app: str
    server: str = SERVE

    @property
    def on_server(self) -> str:
        """Name it, with its server if that runs otherwise than percell's own."""
        return self.name if self.server == SERVE else f"{self.name}, {self.server}"


OURS = Contestant("percell", "percell.web.asgi:app")
BARE = Contestant("bare ASGI + msgspec", "contestants:bare")
FASTAPI = Contestant("FastAPI + pydantic", "contestants:fastapi_app")
TEXTBOOK = Contestant("Litestar, textbook handlers", "litestar_contestants:textbook")
STRICT = Contestant("Litestar, strict handlers", "litestar_contestants:strict")
# a row for each middleware that percell might take on, so that its cost is known before it is
MIDDLEWARE = (
    Contestant(
        "percell with a middleware that does nothing", "litestar_contestants:with_middleware"
    ),
)
OTHER_SERVERS = tuple(OURS._replace(server=server) for server in (STOCK, "granian"))
AT_LEAST = {
    ("POST", BARE): 0.65,
    ("GET", BARE): 0.60,
    ("POST", FASTAPI): 1.5,
    ("GET", FASTAPI): 1.5,
    ("POST", STRICT): 1.5,
    ("GET", STRICT): 1.5,
}
# what percell may add to the bare application, as part of what FastAPI adds
ADDED_AT_MOST = 0.25
CONTESTANTS = (OURS, BARE, FASTAPI, TEXTBOOK, STRICT, *MIDDLEWARE, *OTHER_SERVERS)


class Measured(NamedTuple):
    """What one turn gave."""

    per_second: float
    p99_ms: float
    cpu_us: float  # of the server, for one request


def _command(contestant: Contestant, port: int) -> list[str]:
    pinned = ["taskset", "-c", SERVER_CORE, sys.executable, "-m"]
    if contestant.server == "granian":
        own = ["granian", "--interface", "asgi", "--loop", "uvloop", "--workers", "1", "--no-ws"]
    else:
        http = "httptools" if contestant.server == STOCK else "percell.protocol:Protocol"
        own = ["uvicorn", "--loop", "uvloop", "--http", http, "--ws", "none", "--no-server-header"]
    own += ["--no-access-log", "--log-level", "warning"]
    return [*pinned, *own, "--host", "127.0.0.1", "--port", str(port), contestant.app]


class Served(NamedTuple):
    """A server that is up. Its process leads a session of its own, workers included."""

    base: str
    session: int

    def cpu_seconds(self) -> float:
        """Return the processor time that the server has had."""
        ticks = 0
        for stat in Path("/proc").glob("[0-9]*/stat"):
            with suppress(ProcessLookupError, FileNotFoundError):
                # after the name in brackets: state, parent, group, session, … user and system time
                said = stat.read_text().rpartition(")")[2].split()
                if int(said[3]) == self.session:
                    ticks += int(said[11]) + int(said[12])
        return ticks / os.sysconf("SC_CLK_TCK")


@contextmanager
def _served(contestant: Contestant, question: str) -> Any:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    paths = os.pathsep.join([str(HERE), *filter(None, [os.environ.get("PYTHONPATH")])])
    environment = os.environ | {"PERCELL_BENCH_QUESTION": question, "PYTHONPATH": paths}
    process = subprocess.Popen(_command(contestant, port), env=environment, start_new_session=True)
    try:
        for _ in range(200):
            time.sleep(0.05)
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", port)) == 0:
                    break
        else:
            raise RuntimeError(f"{contestant.name} on {contestant.server} did not start")
        yield Served(f"http://127.0.0.1:{port}", process.pid)
    finally:
        process.terminate()
        process.wait(timeout=10)


def _without_nulls(value: Any) -> Any:
    """Leave out what is null: pydantic writes it where percell leaves the name away."""
    if isinstance(value, dict):
        return {name: _without_nulls(part) for name, part in value.items() if part is not None}
    return [_without_nulls(part) for part in value] if isinstance(value, list) else value


def _same_answers(bases: list[str], question: Question, path: str) -> None:
    """Stop unless every contestant gives the same answer both ways: else the race means nothing."""
    answers = []
    for base in bases:
        for got in (
            httpx.post(f"{base}/v1/{question.id}", json=question.example),
            httpx.get(base + path),
        ):
            got.raise_for_status()
            answers.append(_without_nulls(got.json()))
    if any(answer != answers[0] for answer in answers):
        raise SystemExit("the contestants do not give the same answer")


def _turn(served: Served, path: str, method: str, body: str | None, seconds: int) -> Measured:
    environment = os.environ | {"BENCH_METHOD": method} | ({"BENCH_BODY": body} if body else {})
    load = ["taskset", "-c", LOAD_CORE, "wrk", "--threads", "1", "--timeout", "5s"]
    load += ["--connections", str(CONNECTIONS), "--duration", f"{seconds}s"]
    load += ["--script", str(HERE / "load.lua"), served.base + path]
    before = served.cpu_seconds()
    out = subprocess.run(load, env=environment, capture_output=True, text=True, check=True).stdout
    said = json.loads(out.splitlines()[-1])
    if said["failures"]:
        raise SystemExit(f"{said['failures']} requests failed at {path}")
    requests = said["requests"]
    cpu_us = (served.cpu_seconds() - before) / requests * 1e6
    return Measured(requests / said["seconds"], said["p99_ms"], cpu_us)


def run(
    question: Question, rounds: int, seconds: int, asked: dict[str, Any] | None
) -> tuple[list[str], list[Target]]:
    """Measure one question; return Markdown rows, and the targets with what was reached.

    ``asked`` is asked in place of its example: an assessment without a capacity has no running time,
    which costs many times what HTTP does and hides it.
    """
    question = replace(question, example=asked or question.example)
    path = f"/v1/{question.id}?{urlencode(question.example)}"
    ways = {
        "POST": (f"/v1/{question.id}", json.dumps(question.example)),
        "GET": (path, None),
    }
    turns = [(contestant, method) for contestant in CONTESTANTS for method in ways]
    found: dict[tuple[Contestant, str], list[Measured]] = {turn: [] for turn in turns}
    with ExitStack() as stack:
        up = {c: stack.enter_context(_served(c, question.id)) for c in CONTESTANTS}
        _same_answers([served.base for served in up.values()], question, path)
        for number in range(rounds + 1):
            for turn in random.sample(turns, len(turns)):
                contestant, method = turn
                where, body = ways[method]
                measured = _turn(up[contestant], where, method, body, seconds)
                if number:  # the first round warms up
                    found[turn].append(measured)
    rows: list[str] = []
    targets: list[Target] = []
    for method in ways:
        ours = found[OURS, method]
        for contestant in CONTESTANTS:
            got = found[contestant, method]
            rates = [a.per_second / b.per_second for a, b in zip(ours, got, strict=True)]
            costs = [b.cpu_us / a.cpu_us for a, b in zip(ours, got, strict=True)]
            ratios = "| 1 | 1 |"
            if contestant is not OURS:
                ratios = (
                    f"| {median(rates):.2f} ({min(rates):.2f}–{max(rates):.2f}) "
                    f"| {median(costs):.2f} ({min(costs):.2f}–{max(costs):.2f}) |"
                )
            rows.append(
                f"| `{method} /v1/{question.id}` | {contestant.on_server} "
                f"| {median(m.per_second for m in got):,.0f} | {median(m.p99_ms for m in got):.1f} "
                f"| {median(m.cpu_us for m in got):.0f} {ratios}"
            )
            if at_least := AT_LEAST.get((method, contestant)):
                name = f"{method} {question.id}: percell / {contestant.name}, by CPU"
                targets.append(Target(name, median(costs), at_least=at_least))
        added = [
            (a.cpu_us - bare.cpu_us) / (theirs.cpu_us - bare.cpu_us)
            for a, bare, theirs in zip(
                ours, found[BARE, method], found[FASTAPI, method], strict=True
            )
        ]
        name = f"{method} {question.id}: what percell adds to {BARE.name} / what {FASTAPI.name} adds, by CPU"
        targets.append(Target(name, median(added), at_most=ADDED_AT_MOST))
    return rows, targets


def main() -> int:
    """Run the benchmark."""
    parse = argparse.ArgumentParser(description="Measure questions over HTTP.")
    parse.add_argument("questions", nargs="*", default=["assessment"], metavar="QUESTION")
    parse.add_argument("--rounds", type=int, default=7, choices=range(1, 31), metavar="1..30")
    parse.add_argument("--seconds", type=int, default=2, choices=range(1, 11), metavar="1..10")
    parse.add_argument("--body", type=json.loads, metavar="JSON", help="in place of the example")
    options = parse.parse_args()
    rows: list[str] = []
    targets: list[Target] = []
    for name in options.questions:
        more, reached = run(QUESTIONS[name], options.rounds, options.seconds, options.body)
        rows += more
        targets += reached
    print(
        "| request | how | requests/s | p99, ms | server CPU, µs a request "
        "| percell over it, by requests/s (lowest–highest) | by CPU (lowest–highest) |"
    )
    print("|---|---|---|---|---|---|---|")
    return rows_and_verdict(rows, targets)


if __name__ == "__main__":
    sys.exit(main())
