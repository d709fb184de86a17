"""Which layouts of a number of cells meet a load within rating, and for long enough?"""

from typing import Annotated, ClassVar, NamedTuple, cast

from msgspec import UNSET, Meta, Struct, UnsetType, structs

from percell.physics import pack as packs
from percell.physics.errors import NoSolution
from percell.physics.meter import NOISE, rounded_up
from percell.questions.answering import rules as shared_rules
from percell.questions.answering.cold_findings import cold_findings, kept_in_the_cold
from percell.questions.answering.envelope import Assumption, WorkingStep
from percell.questions.answering.headline import Headline, Rounding
from percell.questions.answering.question import Explained, Question, Subject
from percell.questions.cell.label_doubt import doubt_about, doubting, limits_in_doubt
from percell.questions.loads import rules, running_time
from percell.questions.loads.converter_load import ConverterLoadFigures
from percell.questions.loads.direct_load import DirectLoadFigures
from percell.questions.loads.pack import transport_findings
from percell.questions.loads.pack_and_load import (
    LOAD_AND_CELL,
    PackAndLoad,
    defaults_in_use,
    full_voltage,
    load_of,
    stop_voltage,
)
from percell.questions.loads.pack_run import RunningTime, RunningTimeFigures
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.chemistry import VOLTAGES
from percell.questions.vocabulary.fields import HIGHEST_RATING_A, figure, quantity, whole
from percell.questions.vocabulary.layout import MOST, Wiring, wiring
from percell.questions.vocabulary.limits import (
    Held,
    Limit,
    LimitsField,
    missing,
    together,
    verdict_of,
    with_warnings,
    worst_of_each,
)
from percell.questions.vocabulary.presence import Needs, Presence
from percell.questions.vocabulary.rules import Finding, LimitName, each_once, finding
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import count_of, given


class Layouts(PackAndLoad, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A load for equal cells, and the highest number of cells."""

    presence: ClassVar[tuple[Presence, ...]] = (
        *LOAD_AND_CELL,
        Needs(
            ("needed_time_s",),
            "cell_capacity_ah",
            "needed_time_s needs cell_capacity_ah.",
        ),
        Needs(
            ("state_of_charge",),
            "cell_capacity_ah",
            (
                "state_of_charge needs cell_capacity_ah. Without it every layout is judged with full "
                "cells."
            ),
        ),
    )

    most_cells: Annotated[float, whole(1, MOST, "Highest number of cells.")]
    cell_capacity_ah: fields.CellCapacityAh | UnsetType = UNSET
    cell_rating_a: fields.CellRatingA | UnsetType = UNSET
    needed_time_s: (
        Annotated[
            float, quantity("s", 0.1, 1e7, "Time under load that the pack must run at least.")
        ]
        | UnsetType
    ) = UNSET


class LayoutOption(Struct, frozen=True, kw_only=True):
    """A layout that meets the load."""

    layout: Annotated[str, fields.text("Layout of the cells.")]
    cell_count: Annotated[int, figure("1", "Number of cells in the pack.")]
    worst_cell_current_a: Annotated[
        float,
        figure(
            "A",
            (
                "Current of the worst-case cell in the worst case. Each cell needs a continuous rating of at least "
                "this."
            ),
        ),
    ]
    headroom: Annotated[
        float | UnsetType,
        figure(
            "1",
            "Unused part of the rating, negative if exceeded. Needs `cell_rating_a`.",
        ),
    ] = UNSET
    limits: LimitsField
    verdict: Annotated[Verdict, fields.text("The worst verdict of its limits.")]
    pack_charged_voltage_v: Annotated[float, figure("V", "Full-charge voltage of the pack.")]
    pack_nominal_voltage_v: Annotated[float, figure("V", "Nominal voltage of the pack.")]
    pack_energy_wh: Annotated[
        float | UnsetType,
        figure("Wh", "Energy of the pack at its nominal voltage. Needs `cell_capacity_ah`."),
    ] = UNSET
    running_time_s: Annotated[
        float | UnsetType,
        figure("s", "Time under load until the cut-off. Needs `cell_capacity_ah`."),
    ] = UNSET
    used_capacity: Annotated[
        float | UnsetType,
        figure(
            "1",
            "Charge delivered, as a part of the capacity printed on the cells. Needs `cell_capacity_ah`.",
        ),
    ] = UNSET


class RejectedLayouts(Struct, frozen=True, kw_only=True):
    """Layouts that do not meet the load, each counted under the first reason that applies."""

    over_limit_count: Annotated[
        int, figure("1", "Number of layouts that exceed a limit of a cell.")
    ]
    cutoff_at_once_count: Annotated[int, figure("1", "Number of layouts that cut off immediately.")]
    too_short_count: Annotated[
        int, figure("1", "Number of layouts that do not run as long as needed.")
    ]


class LayoutsFigures(Struct, frozen=True, kw_only=True):
    """Layouts that meet the load, and how many do not."""

    layout_count: Annotated[int, figure("1", "Number of layouts that meet the load.")]
    considered_count: Annotated[int, figure("1", "Number of layouts with at most this many cells.")]
    layouts: Annotated[
        list[LayoutOption],
        Meta(
            description="Layouts that meet the load: fewest cells first, then most headroom, then fewest in parallel."
        ),
    ]
    rejected: Annotated[
        RejectedLayouts, Meta(description="Number of layouts that do not meet the load, by reason.")
    ]


class _Weighed(NamedTuple):
    """A layout with its load, and its run if the capacity is known."""

    wired: Wiring
    load: Explained[DirectLoadFigures] | Explained[ConverterLoadFigures]
    limits: list[Limit]
    findings: list[Finding]
    run: Explained[RunningTimeFigures] | None

    @property
    def verdict(self) -> Verdict:
        return verdict_of(self.limits)


def _weighed(asked: Layouts, wired: Wiring) -> _Weighed | None:
    """Hold one layout against its limits; None if the pack cannot give the power at all."""
    load = load_of(asked, layout=wired.text, cell_rating_a=_rating_a(asked))
    try:
        loaded = load.explain(load.question)
    except NoSolution:
        return None
    held = together(
        Held(loaded.limits, loaded.findings),
        stop_voltage(asked),
        full_voltage(asked),
    )
    run = None
    if asked.cell_capacity_ah is not UNSET:
        run = running_time.explain_run(_running(asked, wired))
        held = together(held, Held(run.limits, run.findings))
    if asked.cell_rating_a is UNSET:
        held = _unrated(held)
    limits = kept_in_the_cold(asked, with_warnings(held.limits, held.findings))
    limits = limits_in_doubt(doubt_about(asked), limits)
    ordered = sorted(limits, key=lambda one: running_time.LOAD_LIMITS.index(one.name))
    return _Weighed(wired, loaded, ordered, held.findings, run)


def _unrated(held: Held) -> Held:
    """Return what holds without a rating: only what no cell at all is rated for is over it."""
    return Held(
        [
            missing(LimitName.CONTINUOUS_RATING, "cell_rating_a")
            if one.name is LimitName.CONTINUOUS_RATING and one.verdict is not Verdict.OVER
            else one
            for one in held.limits
        ],
        [one for one in held.findings if one.rule != shared_rules.LITTLE_HEADROOM.id],
    )


def _rating_a(asked: Layouts) -> float:
    """Return the rating to calculate with: without one, the highest that a cell can have."""
    return HIGHEST_RATING_A if asked.cell_rating_a is UNSET else asked.cell_rating_a


def _running(asked: Layouts, wired: Wiring) -> RunningTime:
    own = {n: getattr(asked, n) for n in PackAndLoad.__struct_fields__}
    capacity_ah = cast(float, asked.cell_capacity_ah)
    rating_a = asked.cell_rating_a
    return RunningTime(
        **own, layout=wired.text, cell_capacity_ah=capacity_ah, cell_rating_a=rating_a
    )


def explain(asked: Layouts) -> Explained[LayoutsFigures]:
    """Hold every layout against the load."""
    most = int(asked.most_cells)
    every = [wiring(f"{s}S{p}P") for s in range(1, most + 1) for p in range(1, most // s + 1)]
    needed_s = 0.0 if asked.needed_time_s is UNSET else asked.needed_time_s * (1 - NOISE)
    found: list[_Weighed] = []
    over, at_once, short = 0, 0, 0
    exceeded: set[LimitName] = set()
    for wired in every:
        one = _weighed(asked, wired)
        if one is None or one.verdict is Verdict.OVER:
            over += 1
            exceeded |= _exceeded(one)
        elif one.run and one.run.figures.running_time_s == 0:
            at_once += 1
        elif one.run and one.run.figures.running_time_s < needed_s:
            short += 1
        else:
            found.append(one)
    # rounded, because floating-point noise must not order equal layouts
    found.sort(
        key=lambda one: (
            one.wired.cells,
            round(one.load.figures.worst_cell_current_a, 9),
            one.wired.parallel,
        )
    )
    rejected = RejectedLayouts(
        over_limit_count=over, cutoff_at_once_count=at_once, too_short_count=short
    )
    return Explained(
        figures=LayoutsFigures(
            layout_count=len(found),
            considered_count=len(every),
            layouts=[_option(asked, one) for one in found],
            rejected=rejected,
        ),
        working=_working(asked, found, len(every), over + at_once + short),
        limits=_limits(found),
        findings=_findings(asked, found, rejected, exceeded)
        + cold_findings(asked.cell_temperature_c),
        leads=_leads(asked, found),
    )


def _exceeded(one: _Weighed | None) -> set[LimitName]:
    """Return the limits that a layout is over; a pack that cannot give the power has no other."""
    if one is None:
        return {LimitName.AVAILABLE_POWER}
    return {limit.name for limit in one.limits if limit.verdict is Verdict.OVER}


def _limits(found: list[_Weighed]) -> list[Limit]:
    """Return the worst of each limit among the layouts that meet the load."""
    if found:
        return worst_of_each([limit for one in found for limit in one.limits])
    return [
        Limit(name=name, verdict=Verdict.NOT_JUDGED, reason="no layout meets the load")
        for name in running_time.LOAD_LIMITS
    ]


def _leads(asked: Layouts, found: list[_Weighed]) -> str:
    if not found:
        return f"no layout of at most {count_of(asked.most_cells, 'cell')} meets the load"
    first = found[0]
    amps = rounded_up(value=first.load.figures.worst_cell_current_a, step=0.1)
    return (
        f"{count_of(len(found), 'layout')} {'meets' if len(found) == 1 else 'meet'} the load; in the first, "
        f"{first.wired.text}, each cell needs a continuous rating of at least {given(amps)} A"
    )


def assumed(asked: Layouts) -> list[Assumption]:
    """Return the defaults in use."""
    return defaults_in_use(asked, judged=True, runs=asked.cell_capacity_ah is not UNSET)


def _option(asked: Layouts, one: _Weighed) -> LayoutOption:
    voltages, wired = VOLTAGES[asked.chemistry], one.wired
    run = one.run.figures if one.run else None
    return LayoutOption(
        layout=wired.text,
        cell_count=wired.cells,
        worst_cell_current_a=one.load.figures.worst_cell_current_a,
        headroom=UNSET if asked.cell_rating_a is UNSET else one.load.figures.headroom,
        limits=one.limits,
        verdict=one.verdict,
        pack_charged_voltage_v=packs.pack_voltage_v(
            cell_voltage_v=voltages.charged_v, series=wired.series
        ),
        pack_nominal_voltage_v=packs.pack_voltage_v(
            cell_voltage_v=voltages.nominal_v, series=wired.series
        ),
        pack_energy_wh=_energy_wh(asked, wired, voltages.nominal_v),
        running_time_s=run.running_time_s if run else UNSET,
        used_capacity=run.used_capacity if run else UNSET,
    )


def _energy_wh(asked: Layouts, wired: Wiring, nominal_v: float) -> float | UnsetType:
    if asked.cell_capacity_ah is UNSET:
        return UNSET
    return packs.pack_energy_wh(
        cell_capacity_ah=asked.cell_capacity_ah,
        cell_nominal_voltage_v=nominal_v,
        cells=wired.cells,
    )


def _working(
    asked: Layouts, found: list[_Weighed], considered_count: int, rejected: int
) -> list[WorkingStep]:
    counted = [
        WorkingStep(
            f"Layouts of at most {count_of(asked.most_cells, 'cell')}",
            "Σ ⌊N / S⌋ over S from 1 to N",
            " + ".join(f"{asked.most_cells // s:.0f}" for s in range(1, int(asked.most_cells) + 1)),
            float(considered_count),
            "1",
        ),
        WorkingStep(
            "Layouts that meet the load",
            "considered_count − rejected",
            f"{considered_count} − {rejected}",
            float(len(found)),
            "1",
        ),
    ]
    return counted + (found[0].load.working if found else [])


def _findings(
    asked: Layouts,
    found: list[_Weighed],
    rejected: RejectedLayouts,
    exceeded: set[LimitName],
) -> list[Finding]:
    if not found:
        which = ", ".join(name.words for name in running_time.LOAD_LIMITS if name in exceeded)
        over = f"a limit ({which})" if which else "a limit"
        return [
            finding(
                rules.NO_LAYOUT_FITS,
                (
                    f"No layout of at most {count_of(asked.most_cells, 'cell')} meets the load: "
                    f"{rejected.over_limit_count} exceed {over}, {rejected.cutoff_at_once_count} cut off immediately, "
                    f"{rejected.too_short_count} do not run long enough."
                ),
            )
        ]
    capacity_ah = asked.cell_capacity_ah
    first = found[0].run
    estimate = rules.RUNNING_TIME_ESTIMATE.id
    sureness = [one for one in first.findings if one.rule == estimate] if first else []
    of_all = _OF_ONE | {one.rule for one in sureness}
    told: list[Finding] = []
    for option in found:
        told = each_once(
            told, [_named(option, one) for one in option.findings if one.rule not in of_all]
        )
    if capacity_ah is UNSET:
        return told
    printed_wh = capacity_ah * VOLTAGES[asked.chemistry].printed_nominal_v
    for option in found:
        told = each_once(
            told,
            transport_findings(
                f"{option.wired.text}, built in,",
                printed_wh * option.wired.cells,
                printed_wh,
            ),
        )
    return [*told, *sureness]


# what each layout's own answer says, and no difference between them
_OF_ONE = {"uneven-share", "converter-wiring"}


def _named(option: _Weighed, found: Finding) -> Finding:
    """Return a finding that says for which layout its numbers hold."""
    return structs.replace(found, sentence=f"{option.wired.text}: {found.sentence}")


QUESTION = Question(
    id="layouts",
    subject=Subject.LIMITS,
    title="Layouts that meet a load",
    description=(
        "Layouts with up to a given number of cells that can feed a coil or a converter within the cells' "
        "limits and, if asked, for long enough."
    ),
    asked=Layouts,
    shows=LayoutsFigures,
    # the worst of the layouts that meet the load
    limits=running_time.LOAD_LIMITS,
    explain=doubting(explain),
    assumed=assumed,
    headline=Headline(
        field="layout_count",
        says="layouts that meet the load:",
        unit="",
        decimals=0,
        round=Rounding.DOWN,
    ),
    # a lamp of the Lantern Street Bench, invented
    example={
        "most_cells": 4,
        "cell_rating_a": 15,
        "cell_capacity_ah": 2.5,
        "output_power_w": 60,
        "needed_time_s": 900,
    },
)
