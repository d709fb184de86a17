"""Which layouts of a number of cells meet a load within rating, and for long enough?"""

from typing import Annotated

import numpy as np
from msgspec import UNSET, Meta, Struct, UnsetType

from percell.physics import pack as packs
from percell.physics.meter import NOISE
from percell.questions.answering import rules as shared_rules
from percell.questions.answering.envelope import Assumption, WorkingStep
from percell.questions.answering.headline import Headline, Rounding
from percell.questions.answering.over_table import asked_over
from percell.questions.answering.question import Explained, Question, Subject
from percell.questions.answering.voltage_findings import cutoff_below_end
from percell.questions.loads import rules, running_time
from percell.questions.loads.pack import TRANSPORT_WH
from percell.questions.loads.pack_and_load import (
    PackAndLoad,
    cutoff_v,
    defaults_in_use,
    load_of,
)
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.chemistry import VOLTAGES
from percell.questions.vocabulary.fields import figure, quantity, whole
from percell.questions.vocabulary.layout import MOST, wiring
from percell.questions.vocabulary.rules import Finding, finding
from percell.questions.vocabulary.sharing import ResistanceSpread, Sharing
from percell.questions.vocabulary.verdict import Verdict, VerdictField, verdict


class Layouts(PackAndLoad, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A load that equal cells are to feed, and how many there may be."""

    most_cells: Annotated[float, whole(1, MOST, "Cells that there may be at most.")]
    cell_rating_a: fields.CellRatingA
    needed_time_s: (
        Annotated[float, quantity("s", 0.1, 1e7, "Time under load that the pack must run.")]
        | UnsetType
    ) = UNSET


class LayoutOption(Struct, frozen=True, kw_only=True):
    """A layout that does it."""

    layout: Annotated[str, fields.text("The layout.")]
    cell_count: Annotated[int, figure("1", "Number of cells.")]
    worst_cell_current_a: Annotated[
        float, figure("A", "Current of the worst-case cell at the worst corner.")
    ]
    headroom: Annotated[float, figure("1", "What is left of the rating.")]
    verdict: VerdictField
    pack_charged_voltage_v: Annotated[float, figure("V", "Voltage when charged.")]
    pack_nominal_voltage_v: Annotated[float, figure("V", "Nominal voltage.")]
    pack_energy_wh: Annotated[float, figure("Wh", "Energy at the nominal voltage.")]
    running_time_s: Annotated[float, figure("s", "Time under load until the cut-off.")]
    used_capacity: Annotated[
        float, figure("1", "Charge delivered, as a part of the capacity printed on the cells.")
    ]


class RejectedLayouts(Struct, frozen=True, kw_only=True):
    """Layouts that do not do it, each counted at the first reason that applies."""

    over_limit_count: Annotated[int, figure("1", "Layouts in which a cell is over its rating.")]
    cutoff_at_once_count: Annotated[int, figure("1", "Layouts at their cut-off at once.")]
    too_short_count: Annotated[int, figure("1", "Layouts that do not run as long as asked.")]


class LayoutsFigures(Struct, frozen=True, kw_only=True):
    """The layouts that do it: fewest cells first, then most headroom, then fewest in parallel."""

    layout_count: Annotated[int, figure("1", "Layouts that meet the load.")]
    considered_count: Annotated[int, figure("1", "Layouts of so many cells or fewer.")]
    layouts: Annotated[list[LayoutOption], Meta(description="The layouts that meet the load.")]
    rejected: Annotated[RejectedLayouts, Meta(description="How many layouts fell out, by reason.")]


def explain(asked: Layouts) -> Explained[LayoutsFigures]:
    """Search all layouts, with the figures of single questions."""
    most = int(asked.most_cells)
    pairs = [(s, p) for s in range(1, most + 1) for p in range(1, most // s + 1)]
    every = {"layout": np.array([f"{s}S{p}P" for s, p in pairs])}
    load = load_of(asked, layout="1S1P", cell_rating_a=asked.cell_rating_a)
    loaded = load.figures(asked_over(load.question, every))
    run = running_time.figures(asked_over(asked, every))
    worst_cell_a, headroom, time_s, used = (
        np.broadcast_to(np.asarray(values, dtype=float), len(pairs)).tolist()
        for values in (
            loaded.worst_cell_current_a,
            loaded.headroom,
            run.running_time_s,
            run.used_capacity,
        )
    )
    needed_s = 0.0 if asked.needed_time_s is UNSET else asked.needed_time_s * (1 - NOISE)
    found, over, at_once, short = [], 0, 0, 0
    for i, (series, parallel) in enumerate(pairs):
        judged = verdict(worst_cell_a[i], asked.cell_rating_a)
        if judged is Verdict.OVER:
            over += 1
        elif time_s[i] == 0:
            at_once += 1
        elif time_s[i] < needed_s:
            short += 1
        else:
            found.append(
                _option(
                    asked,
                    series,
                    parallel,
                    worst_cell_a[i],
                    headroom[i],
                    judged,
                    time_s[i],
                    used[i],
                )
            )
    # rounded, because floating-point noise must not order equal layouts
    found.sort(key=lambda one: (one.cell_count, -round(one.headroom, 9), _parallel(one)))
    rejected = RejectedLayouts(
        over_limit_count=over, cutoff_at_once_count=at_once, too_short_count=short
    )
    return Explained(
        figures=LayoutsFigures(
            layout_count=len(found), considered_count=len(pairs), layouts=found, rejected=rejected
        ),
        working=_working(asked, found, len(pairs), over + at_once + short),
        findings=_findings(asked, found, rejected),
    )


def assumed(asked: Layouts) -> list[Assumption]:
    """Return the defaults in use."""
    return defaults_in_use(asked, judged=True)


def _option(
    asked: Layouts,
    series: int,
    parallel: int,
    worst_cell_a: float,
    headroom: float,
    judged: Verdict,
    time_s: float,
    used: float,
) -> LayoutOption:
    voltages = VOLTAGES[asked.chemistry]
    return LayoutOption(
        layout=f"{series}S{parallel}P",
        cell_count=series * parallel,
        worst_cell_current_a=worst_cell_a,
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


def _parallel(one: LayoutOption) -> int:
    return int(wiring(one.layout).parallel)


def _working(
    asked: Layouts, found: list[LayoutOption], considered_count: int, rejected: int
) -> list[WorkingStep]:
    steps = [
        WorkingStep(
            f"Layouts of at most {asked.most_cells:g} cells",
            "Σ ⌊N / S⌋ over S from 1 to N",
            " + ".join(f"{asked.most_cells // s:.0f}" for s in range(1, int(asked.most_cells) + 1)),
            float(considered_count),
            "1",
        ),
        WorkingStep(
            "Layouts that meet the load",
            "considered_count − fell out",
            f"{considered_count} − {rejected}",
            float(len(found)),
            "1",
        ),
    ]
    if found:
        first = found[0]
        steps.append(
            WorkingStep(
                f"Headroom of the first of them, {first.layout}",
                "h = 1 − I_cell / I_r",
                f"1 − {first.worst_cell_current_a:.4g} A / {asked.cell_rating_a:.4g} A",
                first.headroom,
                "1",
            )
        )
    return steps


def _over_with_allowance(asked: Layouts, one: LayoutOption) -> bool:
    if asked.sharing is Sharing.ALLOWANCE or isinstance(asked.sharing, ResistanceSpread):
        return False
    if asked.sharing is UNSET and asked.output_power_w is UNSET:
        return False  # the verdict on a direct load uses the allowance
    parallel = _parallel(one)
    worst_cell_a = (
        one.worst_cell_current_a * parallel / float(packs.counted_cells(parallel=parallel))
    )
    return verdict(worst_cell_a, asked.cell_rating_a) is Verdict.OVER


def _findings(
    asked: Layouts, options: list[LayoutOption], rejected: RejectedLayouts
) -> list[Finding]:
    found = cutoff_below_end(asked.chemistry, cutoff_v(asked))
    if not options:
        found.append(
            finding(
                rules.NO_LAYOUT_FITS,
                f"Of the layouts of at most {asked.most_cells:g} cells none meets the load: in "
                f"{rejected.over_limit_count} a cell is over its rating, {rejected.cutoff_at_once_count} are at their "
                f"cut-off at once, {rejected.too_short_count} run too short.",
            )
        )
        return found
    allowed = [one.layout for one in options if _over_with_allowance(asked, one)]
    if allowed:
        found.append(
            finding(
                shared_rules.SHARING_ALLOWANCE,
                f"{len(allowed)} of the layouts, {allowed[0]} first, are within rating with an even share "
                "only: with the sharing allowance a cell would be over its rating.",
            )
        )
    wide = [one.layout for one in options if _parallel(one) > 2]
    if wide and not isinstance(asked.sharing, ResistanceSpread):
        found.append(
            finding(
                shared_rules.SHARING_RULE_NOT_CAREFUL,
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
    id="layouts",
    subject=Subject.LIMITS,
    title="Layouts that meet a load",
    description="All layouts of a number of cells or fewer that feed a coil or a converter within the "
    "cells' rating and, if asked, for long enough; and why the others fell out.",
    asked=Layouts,
    shows=LayoutsFigures,
    explain=explain,
    assumed=assumed,
    headline=Headline(
        field="layout_count", says="Layouts that do it", unit="", decimals=0, round=Rounding.DOWN
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
