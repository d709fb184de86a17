"""Which of several packs and loads runs longest, and why?"""

from typing import Annotated

from msgspec import UNSET, Meta, Struct, UnsetType, structs

from percell.physics.errors import NoSolution
from percell.physics.meter import NOISE
from percell.questions.answering import envelope
from percell.questions.answering.envelope import Assumption, Step, links
from percell.questions.loads import running_time
from percell.questions.loads.pack_and_load import cutoff_v
from percell.questions.loads.running_time import RunningTime, RunningTimeAnswer, RunningTimeFigures
from percell.questions.vocabulary import fields, rules
from percell.questions.vocabulary.cautions import CAUTIONS
from percell.questions.vocabulary.fields import figure
from percell.questions.vocabulary.layout import wiring
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.rules import Finding, finding
from percell.questions.vocabulary.verdict import VerdictField

# a cell is used that much further, as a part of its capacity, before the comparison says so
FURTHER = 0.1


class Setup(RunningTime, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One of the packs and loads to compare."""

    name: Annotated[
        str, Meta(min_length=1, max_length=60, description="What to call this setup; each its own.")
    ]


class Comparison(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Up to eight packs with their loads, side by side."""

    setups: Annotated[list[Setup], Meta(min_length=2, max_length=8)]


class Compared(Struct, frozen=True, kw_only=True):
    """What became of one setup: its running time, or why there is none."""

    name: Annotated[str, fields.text("The setup.")]
    rank: Annotated[int | UnsetType, figure("1", "1 runs longest; equal times share a rank.")] = (
        UNSET
    )
    problem: Annotated[str | UnsetType, fields.text("Why there is no answer.")] = UNSET
    layout: Annotated[str | UnsetType, fields.text("The layout, as read.")] = UNSET
    figures: RunningTimeFigures | UnsetType = UNSET
    draws: Annotated[float | UnsetType, figure("1", "Whole draws of the given length.")] = UNSET
    hottest_cell_current_a: Annotated[
        float | UnsetType, figure("A", "Current of the hardest-worked cell at the worst corner.")
    ] = UNSET
    headroom: Annotated[
        float | UnsetType, figure("1", "What is left of the rating; negative when it is passed.")
    ] = UNSET
    verdict: VerdictField | UnsetType = UNSET
    assumptions: list[Assumption] = []
    findings: list[Finding] = []


class ComparisonAnswer(Struct, frozen=True, kw_only=True):
    """The setups in the order in which they were asked, and what their difference comes from."""

    setups: list[Compared]
    working: envelope.Working
    assumptions: envelope.Assumptions
    findings: envelope.Findings
    cautions: envelope.Cautions = CAUTIONS
    links: envelope.Links


class _Told(Struct, frozen=True):
    setup: Setup
    got: RunningTimeAnswer

    @property
    def cells(self) -> int:
        return int(wiring(self.setup.layout).cells)


def answer(asked: Comparison) -> ComparisonAnswer:
    """Answer for all setups, each on its own."""
    names = [setup.name for setup in asked.setups]
    if len(set(names)) < len(names):
        raise Refused("setups", "Two setups have the same name.")
    told: list[_Told] = []
    problems: dict[str, str] = {}
    for setup in asked.setups:
        try:
            told.append(_Told(setup, running_time.answer(setup)))
        except (NoSolution, Refused) as none:
            problems[setup.name] = str(none)
    ranked = sorted(told, key=lambda one: -one.got.running_time_s)
    return ComparisonAnswer(
        setups=_compared(names, ranked, problems),
        working=[_step(one, len(told)) for one in ranked] or [_none(len(names))],
        assumptions=_assumptions(told),
        findings=_findings(ranked),
        links=links("comparison", asked),
    )


def _assumptions(told: list[_Told]) -> list[Assumption]:
    """Return the defaults of all setups, each once: what each of them rests on stands with it."""
    every = (assumption for one in told for assumption in one.got.assumptions)
    return [structs.replace(one, name=f"setups.{one.name}") for one in dict.fromkeys(every)]


def _compared(names: list[str], ranked: list[_Told], problems: dict[str, str]) -> list[Compared]:
    found = {name: Compared(name=name, problem=problem) for name, problem in problems.items()}
    rank = 0
    for place, one in enumerate(ranked, 1):
        longer_s = ranked[place - 2].got.running_time_s if place > 1 else None
        if longer_s is None or one.got.running_time_s < longer_s * (1 - NOISE):
            rank = place
        got = one.got
        found[one.setup.name] = Compared(
            name=one.setup.name,
            rank=rank,
            layout=got.layout,
            figures=RunningTimeFigures(
                **{n: getattr(got, n) for n in RunningTimeFigures.__struct_fields__}
            ),
            draws=got.draws,
            hottest_cell_current_a=got.hottest_cell_current_a,
            headroom=got.headroom,
            verdict=got.verdict,
            assumptions=got.assumptions,
            findings=got.findings,
        )
    return [found[name] for name in names]


def _step(one: _Told, of: int) -> Step:
    got = one.got
    return Step(
        f"Running time of “{one.setup.name}”, one of {of} that run",
        "t = Q / I_mean",
        f"{got.charge_ah:.4g} Ah × 3600 s/h / {got.mean_current_a:.4g} A",
        got.running_time_s,
        "s",
    )


def _none(asked: int) -> Step:
    return Step("Setups that have an answer", "n", f"0 of {asked}", 0.0, "1")


def _findings(ranked: list[_Told]) -> list[Finding]:
    """Return the pair in which the cut-off decides most, if there is one."""
    pairs = [
        (few, many)
        for few in ranked
        for many in ranked
        if few.cells < many.cells
        and cutoff_v(few.setup) < cutoff_v(many.setup)
        and few.got.used_capacity > many.got.used_capacity + FURTHER
    ]
    if not pairs:
        return []
    few, many = max(pairs, key=lambda p: p[0].got.used_capacity - p[1].got.used_capacity)
    return [
        finding(
            rules.CUTOFF_DECIDES,
            f"“{few.setup.name}” runs {few.cells} cell{'s' * (few.cells > 1)} down to "
            f"{cutoff_v(few.setup):g} V and uses {_percent(few)} of the capacity; “{many.setup.name}” stops "
            f"{many.cells} cells at {cutoff_v(many.setup):g} V and uses {_percent(many)}. So they last "
            f"{_minutes(few)} and {_minutes(many)}, as {_ratio(few, many)}, and not as "
            f"{few.cells} to {many.cells}.",
        )
    ]


def _percent(one: _Told) -> str:
    return f"{one.got.used_capacity * 100:.0f} %"


def _minutes(one: _Told) -> str:
    return f"{one.got.running_time_s / 60:.3g} min"


def _ratio(few: _Told, many: _Told) -> str:
    """Return the running times as a ratio to the longer pack's cells."""
    many_s = many.got.running_time_s
    if many_s == 0:
        return "all to nothing"
    return f"{few.got.running_time_s / many_s * many.cells:.2g} to {many.cells}"
