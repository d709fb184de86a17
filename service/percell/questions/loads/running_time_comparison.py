"""Which of several packs and loads runs longest, and why?"""

from typing import Annotated, NamedTuple

from msgspec import UNSET, Meta, Struct, UnsetType, structs

from percell.physics.errors import NoSolution
from percell.physics.meter import NOISE
from percell.questions.answering import rules as shared_rules
from percell.questions.answering.cold_findings import kept_in_the_cold
from percell.questions.answering.envelope import Assumption, WorkingStep
from percell.questions.answering.headline import condition_of, with_assumed
from percell.questions.answering.question import Explained, Question, Subject
from percell.questions.cell.label_doubt import doubt_about, limits_in_doubt, with_doubt
from percell.questions.loads import rules, running_time
from percell.questions.loads.pack_and_load import cutoff_v, defaults_in_use, full_voltage
from percell.questions.loads.pack_run import RunningTime, RunningTimeFigures
from percell.questions.loads.running_time import RunningTimeDetails
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.fields import figure
from percell.questions.vocabulary.layout import wiring
from percell.questions.vocabulary.limits import (
    Held,
    Limit,
    LimitsField,
    not_judged,
    over,
    together,
    verdict_of,
    with_warnings,
    worst_of_each,
)
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.rules import Finding, LimitName, finding, named
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import listed, quoted, shown

# difference in the used part of the capacity from which the comparison mentions it
FURTHER = 0.1


class ComparisonSetup(RunningTime, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One of the packs and loads to compare."""

    label: fields.Label


class RunningTimeComparison(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Up to eight packs with their loads, side by side."""

    setups: Annotated[
        list[ComparisonSetup],
        Meta(
            min_length=2,
            max_length=8,
            description="The packs and loads to compare, each with a label of its own.",
        ),
    ]


class ComparedSetup(Struct, frozen=True, kw_only=True):
    """Result of one setup: its running time, or the reason why there is none. Its load is always judged."""

    label: Annotated[str, fields.text("Name of the setup.")]
    rank: Annotated[
        int | UnsetType,
        figure("1", "Rank by running time. 1 runs longest, and equal times share a rank."),
    ] = UNSET
    reason: Annotated[str | UnsetType, fields.text("Reason why there is no running time.")] = UNSET
    layout: Annotated[str | UnsetType, fields.text("Layout, as read.")] = UNSET
    figures: Annotated[
        RunningTimeFigures | UnsetType, fields.text("Figures of the running time.")
    ] = UNSET
    draws: Annotated[
        float | UnsetType, figure("1", "Number of whole draws of the given length.")
    ] = UNSET
    worst_cell_current_a: Annotated[
        float | UnsetType, figure("A", "Current of the worst-case cell in the worst case.")
    ] = UNSET
    headroom: Annotated[
        float | UnsetType,
        figure("1", "Unused part of the rating, negative if exceeded."),
    ] = UNSET
    limits: LimitsField = []
    verdict: Annotated[
        Verdict | UnsetType, fields.text("The worst verdict of its limits, if there are any.")
    ] = UNSET
    assumptions: Annotated[list[Assumption], fields.text("Its defaults in use.")] = []
    findings: Annotated[list[Finding], fields.text("Findings on this setup.")] = []


class RunningTimeComparisonFigures(Struct, frozen=True, kw_only=True):
    """Results of the setups, in the order in which they were given."""

    setups: Annotated[list[ComparedSetup], fields.text("Each setup.")]


class _Ran(NamedTuple):
    """A setup with an answer."""

    setup: ComparisonSetup
    got: Explained[RunningTimeFigures]
    assumptions: list[Assumption]

    @property
    def cells(self) -> int:
        return int(wiring(self.setup.layout).cells)

    @property
    def figures(self) -> RunningTimeFigures:
        return self.got.figures


def explain(asked: RunningTimeComparison) -> Explained[RunningTimeComparisonFigures]:
    """Answer for all setups, each separately."""
    names = [setup.label for setup in asked.setups]
    if len(set(names)) < len(names):
        raise Refused("setups", "Two setups have the same name. Give each its own.")
    ran: list[_Ran] = []
    failed: list[ComparedSetup] = []
    for setup in asked.setups:
        try:
            got = with_doubt(setup, running_time.explain(setup))
            ran.append(_Ran(setup, got, running_time.assumed(setup)))
        except (NoSolution, Refused) as none:
            failed.append(_without_time(setup, str(none)))
    ranked = sorted(ran, key=lambda one: -one.figures.running_time_s)
    found = {one.label: one for one in [*_compared(ranked), *failed]}
    compared = [found[name] for name in names]
    return Explained(
        figures=RunningTimeComparisonFigures(setups=compared),
        limits=worst_of_each([limit for one in compared for limit in _named_limits(one)]),
        parts=[named(one.label, told) for one in compared for told in one.findings],
        leads=_leads(ranked, compared, failed),
        condition=f"{len(names)} setups, " + listed(list(map(quoted, names))),
        working=[_step(one, len(ran)) for one in ranked] or [_none(len(names))],
        findings=_no_time(failed) + _findings(ranked),
        assumptions=_assumptions(compared),
    )


# the limits that a load can still exceed while the cells empty
_ON_THE_WAY = (LimitName.AVAILABLE_POWER,)
_NO_TIME = "there is no running time"


def _without_time(setup: ComparisonSetup, reason: str) -> ComparedSetup:
    """Return a setup without a running time, with the verdict that its load has all the same."""
    told = ComparedSetup(label=setup.label, reason=reason)
    held = Held([], [])
    try:
        load = running_time.judge_load(setup)
    except NoSolution as none:
        if none.code == "reading_within_error":
            held = Held(
                [over(LimitName.AVAILABLE_POWER)], [finding(shared_rules.SHORT_CIRCUIT, reason)]
            )
    except Refused:
        pass
    else:
        rated = setup.cell_rating_a is not UNSET
        held = together(Held(load.limits, load.findings), full_voltage(setup))
        told = structs.replace(
            told,
            layout=wiring(setup.layout).text,
            worst_cell_current_a=load.figures.worst_cell_current_a if rated else UNSET,
            headroom=load.figures.headroom if rated else UNSET,
            assumptions=defaults_in_use(setup, judged=rated, runs=False),
        )
    seen = {
        one.name: not_judged(one, _NO_TIME) if one.name in _ON_THE_WAY else one
        for one in kept_in_the_cold(setup, with_warnings(held.limits, held.findings))
    }
    limits = [
        seen.get(name) or Limit(name=name, verdict=Verdict.NOT_JUDGED, reason=_NO_TIME)
        for name in running_time.LOAD_LIMITS
    ]
    stop = running_time.stop_without_run(setup, _NO_TIME)
    doubt = doubt_about(setup)
    limits = limits_in_doubt(doubt, limits + stop.limits)
    return structs.replace(
        told,
        limits=limits,
        verdict=verdict_of(limits),
        findings=[*([doubt.finding] if doubt else []), *held.findings, *stop.findings],
    )


def _named_limits(one: ComparedSetup) -> list[Limit]:
    """Return the limits of a setup, each reason with the setup's name."""
    return [
        limit
        if limit.reason is UNSET
        else structs.replace(limit, reason=f"{limit.reason} ({quoted(one.label)})")
        for limit in one.limits
    ]


def _no_time(failed: list[ComparedSetup]) -> list[Finding]:
    """Return the finding about the setups without a running time."""
    if not failed:
        return []
    return [finding(rules.NO_RUNNING_TIME, " ".join(f"{_why(one)}." for one in failed))]


def _why(one: ComparedSetup) -> str:
    reason = str(one.reason).removesuffix(".")
    return f"{quoted(one.label)} has no running time: {reason[:1].lower()}{reason[1:]}"


def _leads(ranked: list[_Ran], compared: list[ComparedSetup], failed: list[ComparedSetup]) -> str:
    """Return the clause with the setups that run longest, and with those that do not run."""
    first = {one.label for one in compared if one.rank == 1}
    leading = [_in_words(one) for one in ranked if one.setup.label in first]
    if not leading:
        leads = "none of them has an answer"
    elif len(leading) == 1:
        leads = f"{leading[0]} runs longest, for about {_minutes(ranked[0])}"
    else:
        leads = f"{listed(leading)} run equally long, for about {_minutes(ranked[0])}"
        leads += ", and longest" * (len(ranked) > len(leading))
    return ". ".join([leads, *map(_why, failed)])


def _in_words(one: _Ran) -> str:
    """Return a setup with its pack and load, and what was assumed of them."""
    names = RunningTime.__struct_fields__
    alone = RunningTime(**{name: getattr(one.setup, name) for name in names})
    return f"{quoted(one.setup.label)} ({with_assumed(condition_of(alone), one.assumptions)})"


def _assumptions(compared: list[ComparedSetup]) -> list[Assumption]:
    """Return the defaults of all setups, each once."""
    every = (assumption for one in compared for assumption in one.assumptions)
    return [structs.replace(one, name=f"setups.{one.name}") for one in dict.fromkeys(every)]


def _compared(ranked: list[_Ran]) -> list[ComparedSetup]:
    """Return the setups that have a running time, the longest first."""
    found: list[ComparedSetup] = []
    rank = 0
    for place, one in enumerate(ranked, 1):
        longer_s = ranked[place - 2].figures.running_time_s if place > 1 else None
        if longer_s is None or one.figures.running_time_s < longer_s * (1 - NOISE):
            rank = place
        details = one.got.also
        assert isinstance(details, RunningTimeDetails)  # noqa: S101 # as running_time.QUESTION declares it
        limits = running_time.QUESTION.limits_of(one.setup, one.got)
        found.append(
            ComparedSetup(
                label=one.setup.label,
                rank=rank,
                layout=wiring(one.setup.layout).text,
                figures=one.figures,
                draws=details.draws,
                worst_cell_current_a=details.worst_cell_current_a,
                headroom=details.headroom,
                limits=limits,
                verdict=verdict_of(limits),
                assumptions=one.assumptions,
                findings=one.got.findings,
            )
        )
    return found


def _step(one: _Ran, of: int) -> WorkingStep:
    got = one.figures
    return WorkingStep(
        f"Running time of {quoted(one.setup.label)}, one of {of} that run",
        "t = Q / I_mean",
        f"{got.pack_delivered_charge_ah:.4g} Ah × 3600 s/h / {got.pack_mean_current_a:.4g} A",
        got.running_time_s,
        "s",
    )


def _none(asked: int) -> WorkingStep:
    return WorkingStep("Setups that have an answer", "n", f"0 of {asked}", 0.0, "1")


def _findings(ranked: list[_Ran]) -> list[Finding]:
    """Return the finding about the pair in which the cut-off matters most, if any."""
    pairs = [
        (few, many)
        for few in ranked
        for many in ranked
        if few.cells < many.cells
        and cutoff_v(few.setup) < cutoff_v(many.setup)
        and few.figures.used_capacity > many.figures.used_capacity + FURTHER
    ]
    if not pairs:
        return []
    few, many = max(pairs, key=lambda p: p[0].figures.used_capacity - p[1].figures.used_capacity)
    return [
        finding(
            rules.CUTOFF_DECIDES,
            (
                f"{quoted(few.setup.label)} runs {few.cells} cell{'s' * (few.cells > 1)} down to {cutoff_v(few.setup):g} "
                f"V and uses {_percent(few)} of the capacity. {quoted(many.setup.label)} stops {many.cells} cells at "
                f"{cutoff_v(many.setup):g} V and uses {_percent(many)}. So they run {_minutes(few)} and "
                f"{_minutes(many)}, a ratio of {_ratio(few, many)}, and not of {few.cells} to {many.cells}."
            ),
        )
    ]


def _percent(one: _Ran) -> str:
    return f"{one.figures.used_capacity * 100:.0f} %"


def _minutes(one: _Ran) -> str:
    return f"{shown(one.figures.running_time_s / 60)} min"


def _ratio(few: _Ran, many: _Ran) -> str:
    """Return the ratio of the running times, scaled for comparison with the numbers of cells."""
    many_s = many.figures.running_time_s
    if many_s == 0:
        return "all to nothing"
    return f"{few.figures.running_time_s / many_s * many.cells:.2g} to {many.cells}"


QUESTION = Question(
    id="running-time-comparison",
    subject=Subject.TIME_AND_HEAT,
    title="Running times side by side",
    description=(
        "Running times of up to eight packs with their loads, ranked, with the reason for the difference. "
        "A setup without an answer does not stop the others."
    ),
    asked=RunningTimeComparison,
    shows=RunningTimeComparisonFigures,
    # the worst of all setups
    limits=running_time.LIMITS,
    explain=explain,
    # two devices lent by the Lantern Street Bench, invented: one stops early, the other late
    example={
        "setups": [
            {
                "label": "one cell, stops late",
                "layout": "1S1P",
                "cell_capacity_ah": 3.0,
                "cell_resistance_ohm": 0.02,
                "output_power_w": 25,
                "cell_cutoff_voltage_v": 2.6,
            },
            {
                "label": "two cells, stop early",
                "layout": "2S1P",
                "cell_capacity_ah": 3.0,
                "cell_resistance_ohm": 0.02,
                "output_power_w": 25,
                "cell_cutoff_voltage_v": 3.5,
            },
        ]
    },
)
