"""What are the figures of a pack of equal cells?"""

from typing import Annotated

import numpy as np
from msgspec import UNSET, Struct, UnsetType

from percell.physics import pack as formulas
from percell.physics.meter import NOISE, rounded_down
from percell.physics.types import Number, as_given
from percell.questions.answering import steps
from percell.questions.answering.assumptions import assumptions
from percell.questions.answering.envelope import Assumption, WorkingStep
from percell.questions.answering.headline import Headline, Rounding
from percell.questions.answering.question import Explained, OverTable, Question, Subject
from percell.questions.answering.rating_findings import shared_findings
from percell.questions.answering.voltage_findings import (
    charged_voltage,
    end_voltage,
    refuse_cutoff,
    touch_voltage,
)
from percell.questions.cell.label_doubt import doubting
from percell.questions.loads import rules
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.cell_resistance import OwnResistance, lasting_ohm, low_ohm
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry, ChemistryField
from percell.questions.vocabulary.fields import figure
from percell.questions.vocabulary.layout import Layout, Wiring, wiring
from percell.questions.vocabulary.limits import Held, together
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.rules import Finding, LimitName, finding
from percell.questions.vocabulary.sharing import Feeds, Sharing, SharingField, counted_cells
from percell.questions.vocabulary.wording import beside, given, shown

# keeps the current of a short circuit finite; no cell has less than a tenth of a milliohm
LEAST_CELL_OHM = 1e-4
TRANSPORT_WH = 100.0
# from here on a capacity or a voltage printed a little higher is above the limit: percell's own choice
NEAR_TRANSPORT_WH = 95.0


class Pack(OwnResistance, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Equal cells, and how they are wired."""

    layout: Layout
    cell_rating_a: fields.CellRatingA
    cell_capacity_ah: fields.CellCapacityAh
    chemistry: ChemistryField = Chemistry.NMC
    cell_charged_voltage_v: fields.CellChargedVoltageV | UnsetType = UNSET
    cell_nominal_voltage_v: fields.CellNominalVoltageV | UnsetType = UNSET
    cell_cutoff_voltage_v: fields.CellCutoffVoltageV | UnsetType = UNSET
    contact_resistance_ohm: fields.ContactResistanceOhm = fields.CONTACT_RESISTANCE_OHM
    sharing: SharingField = Sharing.CAREFUL


class PackFigures(Struct, frozen=True, gc=False):
    """Figures of the pack."""

    cell_count: Annotated[int, figure("1", "Number of cells in the pack.")]
    pack_charged_voltage_v: Annotated[float, figure("V", "Full-charge voltage of the pack.")]
    pack_nominal_voltage_v: Annotated[float, figure("V", "Nominal voltage of the pack.")]
    pack_cutoff_voltage_v: Annotated[float, figure("V", "Pack voltage at which the load stops.")]
    pack_capacity_ah: Annotated[float, figure("Ah", "Capacity of the pack.")]
    pack_energy_wh: Annotated[float, figure("Wh", "Energy of the pack at its nominal voltage.")]
    cell_energy_wh: Annotated[float, figure("Wh", "Energy of one cell at its nominal voltage.")]
    pack_resistance_ohm: Annotated[
        float, figure("Ω", "Internal resistance of the pack after 10 s, contacts included.")
    ]
    prospective_short_circuit_a: Annotated[
        float,
        figure(
            "A",
            (
                "Highest current that a full pack can drive into a short circuit, contacts left out. It is the "
                "current at the first moment, when a cell has half the resistance that it has after 10 s."
            ),
        ),
    ]
    pack_current_limit_even_a: Annotated[
        float, figure("A", "Highest pack current within rating if the cells shared evenly.")
    ]
    pack_current_limit_a: Annotated[
        float,
        figure(
            "A",
            "Pack current at which the worst-case cell is at its rating, with the chosen sharing under a coil.",
        ),
    ]


def voltages(asked: Pack) -> tuple[Number, Number, Number]:
    """Return charged, nominal and cut-off voltage of one cell: as given, or else by chemistry."""
    preset = VOLTAGES[asked.chemistry]
    charged, nominal, cutoff = (
        asked.cell_charged_voltage_v,
        asked.cell_nominal_voltage_v,
        asked.cell_cutoff_voltage_v,
    )
    return (
        preset.charged_v if charged is UNSET else charged,
        preset.nominal_v if nominal is UNSET else nominal,
        preset.cutoff_v if cutoff is UNSET else cutoff,
    )


def figures(asked: Pack) -> PackFigures:
    """Calculate the figures of one question, or of a whole table."""
    for combined in np.broadcast(*voltages(asked)):
        _refuse_contradictions(asked, *combined)
    wired = wiring(asked.layout)
    charged_v, nominal_v, cutoff_v = voltages(asked)
    series, parallel = wired.series, wired.parallel
    cells = wired.cells
    return PackFigures(
        cell_count=cells,
        pack_charged_voltage_v=formulas.pack_voltage_v(cell_voltage_v=charged_v, series=series),
        pack_nominal_voltage_v=formulas.pack_voltage_v(cell_voltage_v=nominal_v, series=series),
        pack_cutoff_voltage_v=formulas.pack_voltage_v(cell_voltage_v=cutoff_v, series=series),
        pack_capacity_ah=formulas.pack_capacity_ah(
            cell_capacity_ah=asked.cell_capacity_ah, parallel=parallel
        ),
        pack_energy_wh=formulas.pack_energy_wh(
            cell_capacity_ah=asked.cell_capacity_ah, cell_nominal_voltage_v=nominal_v, cells=cells
        ),
        cell_energy_wh=formulas.pack_energy_wh(
            cell_capacity_ah=asked.cell_capacity_ah, cell_nominal_voltage_v=nominal_v, cells=1
        ),
        pack_resistance_ohm=formulas.pack_resistance_ohm(
            cell_resistance_ohm=lasting_ohm(asked),
            contact_resistance_ohm=asked.contact_resistance_ohm,
            series=series,
            parallel=parallel,
        ),
        prospective_short_circuit_a=formulas.pack_voltage_v(cell_voltage_v=charged_v, series=series)
        / formulas.pack_resistance_ohm(
            cell_resistance_ohm=_shorted_ohm(asked),
            contact_resistance_ohm=0.0,
            series=series,
            parallel=parallel,
        ),
        pack_current_limit_even_a=formulas.group_rating_a(
            cell_rating_a=asked.cell_rating_a, counted=parallel
        ),
        pack_current_limit_a=formulas.group_rating_a(
            cell_rating_a=asked.cell_rating_a, counted=counted_cells(asked.sharing, parallel)
        ),
    )


def _shorted_ohm(asked: Pack) -> Number:
    """Return the resistance of a cell at the first moment of a short circuit."""
    ohm = low_ohm(asked)
    return as_given(np.maximum(ohm, LEAST_CELL_OHM), ohm)


def assumed(asked: Pack) -> list[Assumption]:
    """Return the defaults in use; those of a short circuit apart."""
    return assumptions(asked) + of_a_short_circuit(asked)


def of_a_short_circuit(asked: Pack) -> list[Assumption]:
    """Return the resistance that was assumed for a short circuit alone."""
    origin = (
        "for the short circuit alone, at its first moment: half of the resistance after 10 s, from "
        "measured cells"
    )
    return [Assumption("cell_resistance_ohm.short_circuit", _shorted_ohm(asked), "Ω", origin)]


def explain(asked: Pack) -> Explained[PackFigures]:
    """Answer for one pack."""
    wired, got = wiring(asked.layout), figures(asked)
    charged_v, _, cutoff_v = voltages(asked)
    held = together(
        end_voltage(asked.chemistry, cutoff_v),
        charged_voltage(asked.chemistry, asked.cell_charged_voltage_v),
        Held([], _findings(asked, wired)),
        Held([], touch_voltage(wired.series * charged_v)),
    )
    return Explained(
        figures=got,
        working=_working(asked, wired, got),
        limits=held.limits,
        findings=held.findings,
    )


def _refuse_contradictions(
    asked: Pack, charged_v: float, nominal_v: float, cutoff_v: float
) -> None:
    refuse_cutoff(cutoff_v, charged_v)
    if not cutoff_v <= nominal_v <= charged_v:
        raise Refused(
            _given_among(asked),
            (
                f"The nominal voltage of a cell, {given(nominal_v)} V, must lie between its cut-off voltage, "
                f"{given(cutoff_v)} V, and its charged voltage, {given(charged_v)} V. Those not given are the "
                "defaults of the chemistry."
            ),
        )


def _working(asked: Pack, wired: Wiring, got: PackFigures) -> list[WorkingStep]:
    charged_v, nominal_v, _ = voltages(asked)
    series, parallel = wired.series, wired.parallel
    return [
        WorkingStep(
            "Voltage when charged: series adds",
            "U = S · u",
            f"{series} × {charged_v:.4g} V",
            got.pack_charged_voltage_v,
            "V",
        ),
        WorkingStep(
            "Nominal voltage",
            "U = S · u",
            f"{series} × {nominal_v:.4g} V",
            got.pack_nominal_voltage_v,
            "V",
        ),
        WorkingStep(
            "Capacity: only parallel adds",
            "Q = P · q",
            f"{parallel} × {asked.cell_capacity_ah:.4g} Ah",
            got.pack_capacity_ah,
            "Ah",
        ),
        WorkingStep(
            "Energy: every cell adds",
            "E = S · P · q · u",
            f"{series} × {parallel} × {asked.cell_capacity_ah:.4g} Ah × {nominal_v:.4g} V",
            got.pack_energy_wh,
            "Wh",
        ),
        WorkingStep(
            "Internal resistance with contacts",
            "R = S · (r + r_contact) / P",
            f"{series} × ({lasting_ohm(asked):.4g} + {asked.contact_resistance_ohm:.4g}) Ω / {parallel}",
            got.pack_resistance_ohm,
            "Ω",
        ),
        WorkingStep(
            "Current into a short circuit, contacts left out",
            "I = S · u / (S · r / P)",
            f"{got.pack_charged_voltage_v:.4g} V / ({series} × {_shorted_ohm(asked):.4g} Ω / {parallel})",
            got.prospective_short_circuit_a,
            "A",
        ),
        WorkingStep(
            "Current within rating, shared evenly",
            "I = P · I_r",
            f"{parallel} × {asked.cell_rating_a:.4g} A",
            got.pack_current_limit_even_a,
            "A",
        ),
        *steps.counted_cells(
            asked.sharing, wired, Feeds.COIL, counted=counted_cells(asked.sharing, parallel)
        ),
        WorkingStep(
            "Current at which the worst-case cell is at its rating",
            "I = n · I_r, n cells counted",
            f"{counted_cells(asked.sharing, parallel):.4g} × {asked.cell_rating_a:.4g} A",
            got.pack_current_limit_a,
            "A",
        ),
    ]


def _given_among(asked: Pack) -> str:
    """Return the first voltage that the caller gave: only a given one can be wrong."""
    names = ("cell_nominal_voltage_v", "cell_cutoff_voltage_v", "cell_charged_voltage_v")
    return next(name for name in names if getattr(asked, name) is not UNSET)


def _findings(asked: Pack, wired: Wiring) -> list[Finding]:

    def limit(counted: Number) -> str:
        limit_a = rounded_down(value=float(counted * asked.cell_rating_a), step=0.1)
        return f"{given(limit_a)} A or less"

    says = f"{wired.parallel} cells in parallel must give"
    found = shared_findings(asked.sharing, wired.parallel, Feeds.COIL, says, limit)
    nominal_v = max(voltages(asked)[1], VOLTAGES[asked.chemistry].printed_nominal_v)
    printed_wh = asked.cell_capacity_ah * nominal_v
    return found + transport_findings("Built in, this pack", printed_wh * wired.cells, printed_wh)


def transport_findings(which: str, pack_wh: float, cell_wh: float) -> list[Finding]:
    """Return the finding about a pack that may not travel as one battery, or hardly.

    Transport rules go by the printed nominal voltage, so energies here are at the highest that is printed.
    """
    if pack_wh < NEAR_TRANSPORT_WH * (1 - NOISE):
        return []
    side = "above" if pack_wh > TRANSPORT_WH * (1 + NOISE) else "close to"
    return [
        finding(
            rules.TRANSPORT_LIMIT,
            (
                f"{which} counts as one battery of {beside(pack_wh, TRANSPORT_WH)} Wh, {side} the {TRANSPORT_WH:g} "
                "Wh of transport rules, if the highest nominal voltage of such cells is printed on it. A loose "
                f"cell then counts as {shown(cell_wh)} Wh."
            ),
        )
    ]


QUESTION = Question(
    id="pack",
    subject=Subject.LOADS,
    title="Figures of a pack",
    description="Voltages, capacity, energy, resistance and highest current within rating of a pack of equal cells.",
    asked=Pack,
    shows=PackFigures,
    limits=(LimitName.END_VOLTAGE, LimitName.CHARGED_VOLTAGE),
    explain=doubting(explain),
    assumed=assumed,
    figures=figures,
    table=OverTable.ARRAYS,
    headline=Headline(
        field="pack_current_limit_a",
        says="the worst-case cell is at its rating when the pack gives",
        unit="A",
        decimals=1,
        round=Rounding.DOWN,
    ),
    example={"layout": "2S2P", "cell_rating_a": 20, "cell_capacity_ah": 3.0},
)
