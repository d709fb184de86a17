"""Which layouts of a number of cells meet a load within rating, and for long enough?"""

from typing import Annotated

import numpy as np
from msgspec import UNSET, Meta, Struct, UnsetType

from percell.physics import pack as packs
from percell.physics.meter import NOISE
from percell.questions.answering.envelope import Assumption, Step
from percell.questions.answering.headline import Headline, Rounding
from percell.questions.answering.judged import cutoff_below_end
from percell.questions.answering.over_table import asked_over
from percell.questions.answering.question import Explained, Question
from percell.questions.loads import running_time
from percell.questions.loads.pack import TRANSPORT_WH
from percell.questions.loads.pack_and_load import (
    EitherLoad,
    cutoff_v,
    defaults_in_use,
    load_of,
)
from percell.questions.vocabulary import fields, rules
from percell.questions.vocabulary.chemistry import VOLTAGES
from percell.questions.vocabulary.fields import figure, quantity, whole
from percell.questions.vocabulary.layout import MOST, wiring
from percell.questions.vocabulary.rules import Finding, finding
from percell.questions.vocabulary.sharing import Sharing, Spread
from percell.questions.vocabulary.verdict import Verdict, VerdictField, verdict


class Options(EitherLoad, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A load that equal cells are to feed, and how many there may be."""

    most_cells: Annotated[float, whole(1, MOST, "Cells that there may be at most.")]
    cell_rating_a: fields.CellRatingA
    needed_time_s: (
        Annotated[float, quantity("s", 0.1, 1e7, "Time under load that the pack must run.")]
        | UnsetType
    ) = UNSET


class Option(Struct, frozen=True, kw_only=True):
    """A layout that does it."""

    layout: Annotated[str, fields.text("The layout.")]
    cells: Annotated[int, figure("1", "Number of cells.")]
    hottest_cell_current_a: Annotated[
        float, figure("A", "Current of the hardest-worked cell at the worst corner.")
    ]
    headroom: Annotated[float, figure("1", "What is left of the rating.")]
    verdict: VerdictField
    pack_charged_voltage_v: Annotated[float, figure("V", "Voltage when charged.")]
    pack_nominal_voltage_v: Annotated[float, figure("V", "Nominal voltage.")]
    pack_energy_wh: Annotated[float, figure("Wh", "Energy as printed, at the nominal voltage.")]
    running_time_s: Annotated[float, figure("s", "Time under load until the cut-off.")]
    used_capacity: Annotated[
        float, figure("1", "Charge delivered, as a part of the capacity printed on the cells.")
    ]


class FellOut(Struct, frozen=True, kw_only=True):
    """Layouts that do not do it, each counted at the first reason that applies."""

    over_rating: Annotated[int, figure("1", "Layouts in which a cell is over its rating.")]
    cutoff_at_once: Annotated[int, figure("1", "Layouts at their cut-off at once.")]
    too_short: Annotated[int, figure("1", "Layouts that do not run as long as asked.")]


class OptionsFigures(Struct, frozen=True, kw_only=True):
    """The layouts that do it: fewest cells first, then most headroom, then fewest in parallel."""

    fitting: Annotated[int, figure("1", "Layouts that meet the load.")]
    considered: Annotated[int, figure("1", "Layouts of so many cells or fewer.")]
    options: Annotated[list[Option], Meta(description="The layouts that meet the load.")]
    fell_out: Annotated[FellOut, Meta(description="How many layouts fell out, by reason.")]


def explain(asked: Options) -> Explained[OptionsFigures]:
    """Search all layouts, with the figures that a single question has."""
    most = int(asked.most_cells)
    pairs = [(s, p) for s in range(1, most + 1) for p in range(1, most // s + 1)]
    every = {"layout": np.array([f"{s}S{p}P" for s, p in pairs])}
    load = load_of(asked, layout="1S1P", cell_rating_a=asked.cell_rating_a)
    loaded = load.figures(asked_over(load.question, every))
    run = running_time.figures(asked_over(asked, every))
    hottest_a, headroom, time_s, used = (
        np.broadcast_to(np.asarray(values, dtype=float), len(pairs)).tolist()
        for values in (
            loaded.hottest_cell_current_a,
            loaded.headroom,
            run.running_time_s,
            run.used_capacity,
        )
    )
    needed_s = 0.0 if asked.needed_time_s is UNSET else asked.needed_time_s * (1 - NOISE)
    found, over, at_once, short = [], 0, 0, 0
    for i, (series, parallel) in enumerate(pairs):
        judged = verdict(hottest_a[i], asked.cell_rating_a)
        if judged is Verdict.OVER:
            over += 1
        elif time_s[i] == 0:
            at_once += 1
        elif time_s[i] < needed_s:
            short += 1
        else:
            found.append(
                _option(
                    asked, series, parallel, hottest_a[i], headroom[i], judged, time_s[i], used[i]
                )
            )
    # rounded, so that the noise of arithmetic does not order what is alike
    found.sort(key=lambda one: (one.cells, -round(one.headroom, 9), _parallel(one)))
    fell_out = FellOut(over_rating=over, cutoff_at_once=at_once, too_short=short)
    return Explained(
        figures=OptionsFigures(
            fitting=len(found), considered=len(pairs), options=found, fell_out=fell_out
        ),
        working=_working(asked, found, len(pairs), over + at_once + short),
        findings=_findings(asked, found, fell_out),
    )


def assumed(asked: Options) -> list[Assumption]:
    """Return the defaults that the answer rests on."""
    return defaults_in_use(asked, judged=True)


def _option(
    asked: Options,
    series: int,
    parallel: int,
    hottest_a: float,
    headroom: float,
    judged: Verdict,
    time_s: float,
    used: float,
) -> Option:
    voltages = VOLTAGES[asked.chemistry]
    return Option(
        layout=f"{series}S{parallel}P",
        cells=series * parallel,
        hottest_cell_current_a=hottest_a,
        headroom=headroom,
        verdict=judged,
        pack_charged_voltage_v=packs.pack_voltage_v(
            cell_voltage_v=voltages.charged_v, series=series
        ),
        pack_nominal_voltage_v=packs.pack_voltage_v(
            cell_voltage_v=voltages.nominal_v, series=series
        ),
        pack_energy_wh=packs.pack_energy_wh(
            cell_capacity_ah=asked.cell_capacity_ah,
            cell_nominal_voltage_v=voltages.nominal_v,
            cells=series * parallel,
        ),
        running_time_s=time_s,
        used_capacity=used,
    )


def _parallel(one: Option) -> int:
    return int(wiring(one.layout).parallel)


def _working(asked: Options, found: list[Option], considered: int, fell_out: int) -> list[Step]:
    steps = [
        Step(
            f"Layouts of at most {asked.most_cells:g} cells",
            "Σ ⌊N / S⌋ over S from 1 to N",
            " + ".join(f"{asked.most_cells // s:.0f}" for s in range(1, int(asked.most_cells) + 1)),
            float(considered),
            "1",
        ),
        Step(
            "Layouts that meet the load",
            "considered − fell out",
            f"{considered} − {fell_out}",
            float(len(found)),
            "1",
        ),
    ]
    if found:
        first = found[0]
        steps.append(
            Step(
                f"Headroom of the first of them, {first.layout}",
                "h = 1 − I_cell / I_r",
                f"1 − {first.hottest_cell_current_a:.4g} A / {asked.cell_rating_a:.4g} A",
                first.headroom,
                "1",
            )
        )
    return steps


def _over_with_allowance(asked: Options, one: Option) -> bool:
    if asked.sharing is Sharing.ALLOWANCE or isinstance(asked.sharing, Spread):
        return False
    if asked.sharing is UNSET and asked.output_power_w is UNSET:
        return False  # a direct load is judged with the allowance
    parallel = _parallel(one)
    hottest_a = (
        one.hottest_cell_current_a * parallel / float(packs.counted_cells(parallel=parallel))
    )
    return verdict(hottest_a, asked.cell_rating_a) is Verdict.OVER


def _findings(asked: Options, options: list[Option], fell_out: FellOut) -> list[Finding]:
    found = cutoff_below_end(asked.chemistry, cutoff_v(asked))
    if not options:
        found.append(
            finding(
                rules.NO_LAYOUT_FITS,
                f"Of the layouts of at most {asked.most_cells:g} cells none meets the load: in "
                f"{fell_out.over_rating} a cell is over its rating, {fell_out.cutoff_at_once} are at their "
                f"cut-off at once, {fell_out.too_short} run too short.",
            )
        )
        return found
    allowed = [one.layout for one in options if _over_with_allowance(asked, one)]
    if allowed:
        found.append(
            finding(
                rules.SHARING_ALLOWANCE,
                f"{len(allowed)} of the layouts, {allowed[0]} first, are within rating with an even share "
                "only: with the sharing allowance a cell would be over its rating.",
            )
        )
    wide = [one.layout for one in options if _parallel(one) > 2]
    if wide and not isinstance(asked.sharing, Spread):
        found.append(
            finding(
                rules.SHARING_RULE_NOT_CAREFUL,
                f"{len(wide)} of the layouts, {wide[0]} first, have three or more cells in parallel: ask "
                "the load of yours for the share that scattered cells have.",
            )
        )
    heavy = [one for one in options if one.pack_energy_wh > TRANSPORT_WH * (1 + NOISE)]
    if heavy:
        found.append(
            finding(
                rules.TRANSPORT_LIMIT,
                f"{len(heavy)} of the layouts, {heavy[0].layout} first, hold more than "
                f"{TRANSPORT_WH:g} Wh as built in; {heavy[0].layout} holds {heavy[0].pack_energy_wh:.4g} Wh.",
            )
        )
    return [*found, *running_time.sureness(asked)]


QUESTION = Question(
    id="options",
    title="Layouts that meet a load",
    description="All layouts of a number of cells or fewer that feed a coil or a converter within the "
    "cells' rating and, if asked, for long enough; and why the others fell out.",
    asked=Options,
    shows=OptionsFigures,
    explain=explain,
    assumed=assumed,
    headline=Headline(
        field="fitting", says="Layouts that do it", unit="", decimals=0, round=Rounding.DOWN
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
