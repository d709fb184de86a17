"""What are the figures of a pack of equal cells?"""

from typing import Annotated, NamedTuple

from msgspec import UNSET, Struct, UnsetType

from percell.physics import pack as formulas
from percell.physics.types import Number
from percell.questions import fields, rules
from percell.questions.chemistry import VOLTAGES, Chemistry, ChemistryField
from percell.questions.envelope import Answer, Step, assumptions, links
from percell.questions.fields import figure
from percell.questions.judged import charged_above_chemistry, cutoff_below_end
from percell.questions.layout import Layout, Wiring, wiring
from percell.questions.refusal import Refused
from percell.questions.rules import Finding, finding

TRANSPORT_WH = 100.0


class Pack(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Equal cells and how they are wired."""

    layout: Layout
    cell_rating_a: fields.CellRatingA
    cell_capacity_ah: fields.CellCapacityAh
    chemistry: ChemistryField = Chemistry.NMC
    cell_charged_voltage_v: fields.CellChargedVoltageV | UnsetType = UNSET
    cell_nominal_voltage_v: fields.CellNominalVoltageV | UnsetType = UNSET
    cell_cutoff_voltage_v: fields.CellCutoffVoltageV | UnsetType = UNSET
    cell_resistance_ohm: fields.CellResistanceOhm = fields.CELL_RESISTANCE_OHM
    contact_resistance_ohm: fields.ContactResistanceOhm = fields.CONTACT_RESISTANCE_OHM


class PackAnswer(Answer, frozen=True):
    """The figures of the pack."""

    layout: Annotated[str, fields.text("The layout, as read.")]
    cells: Annotated[int, figure("1", "Number of cells.")]
    pack_charged_voltage_v: Annotated[float, figure("V", "Voltage when charged.")]
    pack_nominal_voltage_v: Annotated[float, figure("V", "Nominal voltage.")]
    pack_cutoff_voltage_v: Annotated[float, figure("V", "Voltage at which the load stops.")]
    pack_capacity_ah: Annotated[float, figure("Ah", "Capacity.")]
    pack_energy_wh: Annotated[float, figure("Wh", "Energy at the nominal voltage.")]
    cell_energy_wh: Annotated[float, figure("Wh", "Energy of one cell at its nominal voltage.")]
    pack_resistance_ohm: Annotated[float, figure("ohm", "Internal resistance with the contacts.")]
    group_rating_even_a: Annotated[
        float, figure("A", "Current within rating if the cells shared evenly.")
    ]
    group_rating_allowance_a: Annotated[
        float, figure("A", "Current within rating with the sharing allowance.")
    ]


class Figures(NamedTuple):
    """The numbers, as floats or as arrays of a grid."""

    cells: Number
    pack_charged_voltage_v: Number
    pack_nominal_voltage_v: Number
    pack_cutoff_voltage_v: Number
    pack_capacity_ah: Number
    pack_energy_wh: Number
    cell_energy_wh: Number
    pack_resistance_ohm: Number
    group_rating_even_a: Number
    group_rating_allowance_a: Number


def voltages(asked: Pack) -> tuple[Number, Number, Number]:
    """Return charged, nominal and cut-off voltage of one cell: the caller's own, else by chemistry."""
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


def figures(asked: Pack, wired: Wiring) -> Figures:
    """Work out the numbers of one question, or of a whole grid of them."""
    charged_v, nominal_v, cutoff_v = voltages(asked)
    series, parallel = wired.series, wired.parallel
    cells = wired.cells
    return Figures(
        cells=cells,
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
            cell_resistance_ohm=asked.cell_resistance_ohm,
            contact_resistance_ohm=asked.contact_resistance_ohm,
            series=series,
            parallel=parallel,
        ),
        group_rating_even_a=formulas.group_rating_a(
            cell_rating_a=asked.cell_rating_a, counted=parallel
        ),
        group_rating_allowance_a=formulas.group_rating_a(
            cell_rating_a=asked.cell_rating_a,
            counted=formulas.counted_cells(parallel=parallel),
        ),
    )


def answer(asked: Pack) -> PackAnswer:
    """Answer for one pack."""
    wired = wiring(asked.layout)
    charged_v, nominal_v, cutoff_v = voltages(asked)
    if not cutoff_v <= nominal_v <= charged_v:
        raise Refused(
            "cell_nominal_voltage_v",
            f"The nominal voltage, {nominal_v:g} V, lies between the cut-off voltage, {cutoff_v:g} V, "
            f"and the charged voltage, {charged_v:g} V.",
        )
    got = figures(asked, wired)
    series, parallel = wired.series, wired.parallel
    return PackAnswer(
        layout=wired.text,
        **got._asdict(),
        working=[
            Step(
                "Voltage when charged: series adds",
                "U = S · u",
                f"{series} × {charged_v:.4g} V",
                got.pack_charged_voltage_v,
                "V",
            ),
            Step(
                "Nominal voltage",
                "U = S · u",
                f"{series} × {nominal_v:.4g} V",
                got.pack_nominal_voltage_v,
                "V",
            ),
            Step(
                "Capacity: only parallel adds",
                "Q = P · q",
                f"{parallel} × {asked.cell_capacity_ah:.4g} Ah",
                got.pack_capacity_ah,
                "Ah",
            ),
            Step(
                "Energy: every cell adds",
                "E = S · P · q · u",
                f"{series} × {parallel} × {asked.cell_capacity_ah:.4g} Ah × {nominal_v:.4g} V",
                got.pack_energy_wh,
                "Wh",
            ),
            Step(
                "Internal resistance with contacts",
                "R = S · (r + r_contact) / P",
                f"{series} × ({asked.cell_resistance_ohm:.4g} + {asked.contact_resistance_ohm:.4g}) Ω / {parallel}",
                got.pack_resistance_ohm,
                "ohm",
            ),
            Step(
                "Current within rating, shared evenly",
                "I = P · I_r",
                f"{parallel} × {asked.cell_rating_a:.4g} A",
                got.group_rating_even_a,
                "A",
            ),
            Step(
                "Current within rating, with the sharing allowance",
                "I = (P − ½) · I_r, for P of 2 or more",
                f"{formulas.counted_cells(parallel=parallel):.4g} × {asked.cell_rating_a:.4g} A",
                got.group_rating_allowance_a,
                "A",
            ),
        ],
        assumptions=assumptions(asked),
        findings=_findings(asked, got),
        links=links("pack", asked),
    )


def _findings(asked: Pack, got: Figures) -> list[Finding]:
    found = charged_above_chemistry(asked.chemistry, asked.cell_charged_voltage_v)
    found += cutoff_below_end(asked.chemistry, asked.cell_cutoff_voltage_v)
    if got.pack_energy_wh > TRANSPORT_WH:
        found.append(
            finding(
                rules.TRANSPORT_LIMIT,
                f"Built in, this pack counts as one battery of {got.pack_energy_wh:.4g} Wh, above "
                f"{TRANSPORT_WH:g} Wh; a loose cell counts as {got.cell_energy_wh:.4g} Wh.",
            )
        )
    return found
