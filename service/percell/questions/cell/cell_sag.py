"""How far does a cell's voltage fall under a current?"""

from typing import Annotated

import numpy as np
from msgspec import UNSET, Struct, UnsetType

from percell.physics import direct, measured_cells
from percell.physics.curves import PUBLISHED
from percell.physics.errors import NoSolution
from percell.physics.types import Number, as_given, certain
from percell.questions.answering.cold_findings import cold_findings
from percell.questions.answering.envelope import WorkingStep
from percell.questions.answering.headline import Headline, Rounding
from percell.questions.answering.question import Explained, OverTable, Question, Subject
from percell.questions.answering.rating_findings import if_rated
from percell.questions.answering.rest_curve import emptying_at_rest
from percell.questions.answering.voltage_findings import (
    OVERCHARGE_V,
    end_voltage,
    resistance_assumed,
    resting_voltage,
)
from percell.questions.cell import rules
from percell.questions.cell.label_doubt import doubting
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.cell_resistance import (
    WarmOrCold,
    at_usual_temperature,
    lasting_ohm,
)
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry, ChemistryField
from percell.questions.vocabulary.fields import figure
from percell.questions.vocabulary.limits import Held, not_judged, together
from percell.questions.vocabulary.rules import Finding, LimitName, finding
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import beside, given, shown


class CellSag(WarmOrCold, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One cell under a current."""

    cell_current_a: fields.CellCurrentA
    open_circuit_voltage_v: fields.CellOpenCircuitVoltageV
    cell_capacity_ah: fields.CellCapacityAh | UnsetType = UNSET
    cell_rating_a: fields.CellRatingA | UnsetType = UNSET
    chemistry: ChemistryField = Chemistry.NMC
    contact_resistance_ohm: fields.ContactResistanceOhm = fields.CONTACT_RESISTANCE_OHM


class CellSagFigures(Struct, frozen=True, gc=False):
    """Voltages and heat of the cell under its current, after minutes and within seconds."""

    lasting_sag_v: Annotated[
        float, figure("V", "Voltage lost in cell and contacts after minutes of this current.")
    ]
    lasting_loaded_voltage_v: Annotated[
        float, figure("V", "Voltage of the cell at the load after minutes, contacts included.")
    ]
    sag_v: Annotated[float, figure("V", "Voltage lost in cell and contacts within 10 s.")]
    loaded_voltage_v: Annotated[
        float, figure("V", "Voltage of the cell at the load within 10 s, contacts included.")
    ]
    heat_w: Annotated[
        float,
        figure("W", "Heat in cell and contacts under a load of minutes, estimated high."),
    ]
    lost_power_ratio: Annotated[
        float, figure("1", "Part of the cell's power that is lost after minutes of this current.")
    ]


def _cell_ohm(asked: CellSag) -> Number:
    """Return the resistance of the cell at its temperature, and as empty as its rest voltage says."""
    return lasting_ohm(asked) * _emptying(asked)


def _emptying(asked: CellSag) -> Number:
    return emptying_at_rest(asked.chemistry, asked.open_circuit_voltage_v, asked.cell_temperature_c)


def figures(asked: CellSag) -> CellSagFigures:
    """Calculate the figures of one question, or of a whole table."""
    cell_a, rest_v, cell_ohm = asked.cell_current_a, asked.open_circuit_voltage_v, _cell_ohm(asked)
    contacts_v = cell_a * asked.contact_resistance_ohm
    sag_v = direct.sag_v(current_a=cell_a, source_resistance_ohm=cell_ohm) + contacts_v
    lasting_v = (
        measured_cells.highest_loss_v(current_a=cell_a, resistance_ohm=cell_ohm) + contacts_v
    )
    left_v = rest_v - lasting_v
    if certain(left_v <= 0):
        raise NoSolution(
            "no_voltage_left",
            "The cell cannot give this current for minutes, because its voltage would fall to zero.",
            cell_current_a=cell_a,
            open_circuit_voltage_v=rest_v,
            resistance_ohm=cell_ohm + asked.contact_resistance_ohm,
        )
    # a table has NaN where no answer exists
    held = as_given(np.where(left_v > 0, 1.0, np.nan), left_v)
    return CellSagFigures(
        lasting_sag_v=lasting_v * held,
        lasting_loaded_voltage_v=left_v * held,
        sag_v=sag_v * held,
        loaded_voltage_v=(rest_v - sag_v) * held,
        heat_w=cell_a * lasting_v * held,
        lost_power_ratio=lasting_v / rest_v * held,
    )


def _working(asked: CellSag, got: CellSagFigures) -> list[WorkingStep]:
    cell_a, cell_ohm, contact_ohm = (
        asked.cell_current_a,
        _cell_ohm(asked),
        asked.contact_resistance_ohm,
    )
    rest_v = asked.open_circuit_voltage_v
    return [
        WorkingStep(
            "Resistance of the cell after 10 s, at its temperature and state of charge",
            "r = r_25 · k_temperature · k_emptying",
            f"{at_usual_temperature(asked):.4g} Ω × "
            f"{measured_cells.temperature_ratio(temperature_c=asked.cell_temperature_c):.4g} × {_emptying(asked):.4g}",
            cell_ohm,
            "Ω",
        ),
        WorkingStep(
            "Voltage lost in cell and contacts within 10 s",
            "ΔU = I · (r + r_contact)",
            f"{cell_a:.4g} A × ({cell_ohm:.4g} + {contact_ohm:.4g}) Ω",
            got.sag_v,
            "V",
        ),
        WorkingStep(
            "Voltage lost in cell and contacts after minutes",
            f"ΔU = I·r + min(I·r, {measured_cells.SLOW_HEAT_V:g} V) + I·r_contact",
            f"I = {cell_a:.4g} A, r = {cell_ohm:.4g} Ω, r_contact = {contact_ohm:.4g} Ω",
            got.lasting_sag_v,
            "V",
        ),
        WorkingStep(
            "Voltage that is left for the load",
            "U = U₀ − ΔU",
            f"{rest_v:.4g} V − {got.lasting_sag_v:.4g} V",
            got.lasting_loaded_voltage_v,
            "V",
        ),
        WorkingStep(
            "Heat in cell and contacts under a load of minutes",
            "P = I · ΔU",
            f"{cell_a:.4g} A × {got.lasting_sag_v:.4g} V",
            got.heat_w,
            "W",
        ),
        WorkingStep(
            "Part of the cell's power that is lost",
            "ΔU / U₀",
            f"{got.lasting_sag_v:.4g} V / {rest_v:.4g} V",
            got.lost_power_ratio,
            "1",
        ),
    ]


def explain(asked: CellSag) -> Explained[CellSagFigures]:
    """Answer for one current."""
    got = figures(asked)
    rated, headroom_step = if_rated(worst_cell_a=asked.cell_current_a, rating_a=asked.cell_rating_a)
    held = together(
        _end_voltage(asked, got),
        _charged(asked),
        rated,
        Held([], _findings(asked, got)),
        Held([], cold_findings(asked.cell_temperature_c)),
    )
    return Explained(
        figures=got,
        working=_working(asked, got) + headroom_step,
        limits=held.limits,
        findings=held.findings,
        leads=(
            f"{_with_assumed(asked)}the cell sags by {shown(got.lasting_sag_v)} V, to {_kept(asked, got)} V, after minutes; by "
            f"{shown(got.sag_v)} V within seconds"
        ),
    )


def _with_assumed(asked: CellSag) -> str:
    """Return the resistance on which the sag rests, if nobody gave it: the sag grows with it."""
    if asked.cell_resistance_ohm is not UNSET:
        return ""
    ohm = float(at_usual_temperature(asked))
    return f"with {shown(ohm)} Ω of internal resistance, which was assumed, "


def _end_voltage(asked: CellSag, got: CellSagFigures) -> Held:
    """Hold the voltage under load against the end of discharge; without a curve of its own it may be lower still."""
    held = end_voltage(asked.chemistry, got.lasting_loaded_voltage_v, sagging=True)
    if asked.chemistry.value in PUBLISHED:
        return held
    name = VOLTAGES[asked.chemistry].name
    why = f"no published curve of {name} shows how empty the cell is, and a nearly empty cell sags further"
    return Held([not_judged(limit, why) for limit in held.limits], held.findings)


def _kept(asked: CellSag, got: CellSagFigures) -> str:
    """Return the voltage under load with the digits that keep it on its side of the end voltage."""
    return beside(got.lasting_loaded_voltage_v, VOLTAGES[asked.chemistry].end_v)


def _charged(asked: CellSag) -> Held:
    """Hold the voltage at which the cell rests against its charged voltage."""
    rest_v, preset = asked.open_circuit_voltage_v, VOLTAGES[asked.chemistry]
    limit = resting_voltage(asked.chemistry, rest_v)
    if limit.verdict is not Verdict.OVER:
        return Held([limit], [])
    return Held(
        [limit],
        [
            finding(
                rules.CHARGE_ABOVE_FULL,
                (
                    f"The cell rests at {given(rest_v)} V, more than {OVERCHARGE_V:g} V above the {preset.charged_v:g} "
                    f"V to which a cell of {preset.name} is charged. Do not use or charge it."
                ),
            )
        ],
    )


def _findings(asked: CellSag, got: CellSagFigures) -> list[Finding]:
    minutes, seconds = shown(got.lasting_sag_v), shown(got.sag_v)
    sentence = (
        f"At {given(asked.cell_current_a)} A the cell loses {seconds} V within seconds, and {minutes} V "
        "after minutes."
    )
    emptying = _emptying(asked)
    if emptying > 1:
        sentence += (
            f" At {given(asked.open_circuit_voltage_v)} V the cell counts as nearly empty, with "
            f"{shown(emptying)} times the resistance of a half-full cell."
        )
    return [finding(rules.SAG_GROWS, sentence), *resistance_assumed(asked)]


QUESTION = Question(
    id="cell-sag",
    subject=Subject.TIME_AND_HEAT,
    title="Sag of a cell under a current",
    description=(
        "Sag of one cell under a current, after minutes and within seconds, and whether the voltage falls "
        "below the end-of-discharge voltage. The current is compared with the rating, if you give one."
    ),
    asked=CellSag,
    shows=CellSagFigures,
    limits=(LimitName.END_VOLTAGE, LimitName.CHARGED_VOLTAGE, LimitName.CONTINUOUS_RATING),
    explain=doubting(explain),
    figures=figures,
    table=OverTable.ARRAYS,
    # at the voltage of the table or above it, and so far from empty
    no_effect=frozenset({"open_circuit_voltage_v"}),
    headline=Headline(
        field="lasting_sag_v", says="The cell sags by", unit="V", decimals=2, round=Rounding.UP
    ),
    example={"cell_current_a": 20, "open_circuit_voltage_v": 3.7},
)
