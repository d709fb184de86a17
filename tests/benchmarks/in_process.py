"""What percell costs without HTTP: a question, a batch of them, a whole grid at once.

    .venv/bin/python tests/benchmarks/in_process.py

Two ways to the same thing take turns in every round; a ratio is the median over the rounds of the
ratio within a round. Stops by itself after about half a minute. Prints Markdown rows; exit code 1
where a target is missed.
"""

import sys
from collections.abc import Callable, Iterator
from itertools import product
from statistics import median
from time import process_time
from typing import Any

import msgspec
import numpy as np
from report import Target, rows_and_verdict

from percell.questions.answering.over_table import figures_over
from percell.questions.answering.question import Question
from percell.questions.registry import QUESTIONS
from percell.web.batch import BATCH_LIMIT, answer_batch
from percell.web.resource import encode

ROUNDS = 9
# how long one question is asked over and over in a round; one that takes longer is asked once
ASKED_S = 0.03
SIDE = 1000
SAMPLE_SIDE = 100

# the grids: what stays, and the two fields that change, chosen so that most figures hang on both:
# NumPy works a figure that hangs on one axis out along that axis only, which would flatter the ratio
GRIDS: dict[str, tuple[dict[str, Any], dict[str, tuple[float, float]]]] = {
    "direct-load": (
        {"layout": "2S2P", "cell_rating_a": 20},
        {"coil_resistance_ohm": (0.1, 3.0), "cell_charged_voltage_v": (3.6, 4.2)},
    ),
    "highest-power": (
        {"layout": "2S2P", "cutoff_basis": "at_rest"},
        {"cell_rating_a": (5, 40), "cell_cutoff_voltage_v": (2.5, 3.5)},
    ),
}


def _seconds(work: Callable[[], Any]) -> float:
    start = process_time()
    work()
    return process_time() - start


def _turns(*ways: Callable[[], Any]) -> list[list[float]]:
    """Return the seconds of each way in each round, after one round to warm up."""
    rounds = [[_seconds(work) for work in ways] for _ in range(ROUNDS + 1)][1:]
    return [list(each) for each in zip(*rounds, strict=True)]


def one_question(question: Question) -> str:
    """Measure decode, answer and encode of a question's example, alone and together."""
    decode = msgspec.json.Decoder(question.asked).decode
    body = msgspec.json.encode(question.example)
    asked = decode(body)
    question.answer(asked)  # what the first answer alone sets up is not counted
    times = max(1, int(ASKED_S / max(1e-6, _seconds(lambda: question.answer(asked)))))

    def answers() -> None:
        for _ in range(times):
            question.answer(asked)

    def whole() -> None:
        for _ in range(times):
            encode(question.answer(decode(body)))

    answer_us, whole_us = (median(each) / times * 1e6 for each in _turns(answers, whole))
    size = len(encode(question.answer(asked)))
    return (
        f"| `{question.id}` | {answer_us:.1f} µs | {whole_us:.1f} µs | {1e6 / whole_us:,.0f} "
        f"| {size:,} B |"
    )


def batch(question: Question) -> tuple[str, Target]:
    """Measure a full batch against a plain loop over the same bodies."""
    asks = [question.example | {"cell_rating_a": 5 + i / 100} for i in range(BATCH_LIMIT)]
    bodies = [msgspec.json.encode(ask) for ask in asks]
    body = msgspec.json.encode({"items": [{"question": question.id, "ask": a} for a in asks]})
    decode = msgspec.json.Decoder(question.asked).decode
    if any(item.status != 200 for item in answer_batch(body, "").items):
        raise SystemExit("a question of the batch has no answer")

    def loop() -> None:
        for one in bodies:
            encode(question.answer(decode(one)))

    looped, batched = _turns(loop, lambda: encode(answer_batch(body, "")))
    ratio = median(a / b for a, b in zip(looped, batched, strict=True))
    row = (
        f"| batch of {BATCH_LIMIT:,} × `{question.id}` | {median(batched) * 1e3:.1f} ms "
        f"| plain loop: {median(looped) * 1e3:.1f} ms | {ratio:.2f} |"
    )
    return row, Target(f"batch / plain loop, {question.id}", ratio, at_least=0.75)


def _cells(question: Question, side: int) -> tuple[dict[str, Any], list[tuple[str, Any]]]:
    fixed, ranges = GRIDS[question.id]
    return fixed, [
        (name, np.linspace(low, high, side).tolist()) for name, (low, high) in ranges.items()
    ]


def _one_by_one(question: Question, side: int) -> Iterator[Any]:
    """Ask every cell of a grid by itself, for its figures only: no working, no findings."""
    figures = question.figures
    assert figures is not None, "a table can ask it"
    fixed, axes = _cells(question, side)
    (first, rows), (second, columns) = axes
    for row, column in product(rows, columns):
        asked = msgspec.convert(fixed | {first: row, second: column}, question.asked)
        yield figures(asked)


def _at_once(question: Question, side: int) -> Any:
    fixed, ((first, rows), (second, columns)) = _cells(question, side)
    axes = {first: np.array(rows)[:, None], second: np.array(columns)[None, :]}
    return figures_over(question, fixed, axes)


def table(question: Question) -> tuple[str, Target]:
    """Measure a grid at once against a sample of it one by one, scaled to the same count."""
    _same_figures(question)
    cells, sample = SIDE**2, SAMPLE_SIDE**2
    sampled, at_once = _turns(
        lambda: sum(1 for _ in _one_by_one(question, SAMPLE_SIDE)),
        lambda: _at_once(question, SIDE),
    )
    each = [seconds * cells / sample for seconds in sampled]
    ratio = median(a / b for a, b in zip(each, at_once, strict=True))
    row = (
        f"| `{question.id}` over {cells:,} cells at once | {median(at_once) * 1e3:.0f} ms "
        f"| one by one: {median(each):.1f} s, scaled from {sample:,} | {ratio:.0f} |"
    )
    return row, Target(f"at once / one by one, {question.id}", ratio, at_least=30)


def _same_figures(question: Question) -> None:
    """Stop unless both ways give the same figures: else the race means nothing."""
    side = 10
    got = _at_once(question, side)
    each = list(_one_by_one(question, side))
    for name in type(got).__struct_fields__:
        whole = np.broadcast_to(getattr(got, name), (side, side)).ravel()
        if not np.allclose(whole, [getattr(one, name) for one in each], rtol=1e-12):
            raise SystemExit(f"{question.id}: {name} differs between the two ways")


def main() -> int:
    """Run the benchmark."""
    print("| question | answer | with decode and encode | a second | answer's size |")
    print("|---|---|---|---|---|")
    for question in QUESTIONS.values():
        print(one_question(question))
    print("\n| many | time | against | ratio |\n|---|---|---|---|")
    # one that takes long, and one that is over at once
    batches = [batch(QUESTIONS[name]) for name in ("assessment", "converter-load")]
    measured = [*batches, *(table(QUESTIONS[name]) for name in GRIDS)]
    return rows_and_verdict([row for row, _ in measured], [target for _, target in measured])


if __name__ == "__main__":
    sys.exit(main())
