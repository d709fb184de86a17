"""How far does a cell's voltage fall under a current?"""

from typing import Annotated

import numpy as np
from msgspec import Struct

from percell.physics import direct
from percell.physics.errors import NoSolution
from percell.physics.types import as_given, certain
from percell.questions.answering.envelope import WorkingStep
from percell.questions.answering.headline import Headline, Rounding
from percell.questions.answering.question import Explained, OverTable, Question, Subject
from percell.questions.answering.voltage_findings import (
    OVERCHARGE_V,
    end_voltage,
    resistance_assumed,
)
from percell.questions.cell import rules
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry, ChemistryField
from percell.questions.vocabulary.fields import figure
from percell.questions.vocabulary.limits import Held, judged, together
from percell.questions.vocabulary.rules import Finding, LimitName, finding
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import beside, given, shown


class CellSag(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One cell under a current."""

    cell_current_a: fields.CellCurrentA
    open_circuit_voltage_v: fields.CellOpenCircuitVoltageV
    chemistry: ChemistryField = Chemistry.NMC
    cell_resistance_ohm: fields.CellResistanceOhm = fields.CELL_RESISTANCE_OHM
    contact_resistance_ohm: fields.ContactResistanceOhm = fields.CONTACT_RESISTANCE_OHM


class CellSagFigures(Struct, frozen=True, gc=False):
    """The cell under its current, at the first moment and for seconds."""

    sag_v: Annotated[float, figure("V", "Voltage lost in cell and contacts.")]
    loaded_voltage_v: Annotated[float, figure("V", "Voltage that the load sees of the cell.")]
    heat_w: Annotated[float, figure("W", "Heat in cell and contacts.")]
    lost_power_ratio: Annotated[
        float, figure("1", "Part of the cell's power that is lost as that heat.")
    ]


def figures(asked: CellSag) -> CellSagFigures:
    """Calculate the figures of one question, or of a whole table."""
    ohm = asked.cell_resistance_ohm + asked.contact_resistance_ohm
    sag_v = direct.sag_v(current_a=asked.cell_current_a, source_resistance_ohm=ohm)
    left_v = asked.open_circuit_voltage_v - sag_v
    if certain(left_v <= 0):
        raise NoSolution(
            "current_above_short_circuit",
            "The cell cannot give this current: a short circuit would draw less.",
            cell_current_a=asked.cell_current_a,
            open_circuit_voltage_v=asked.open_circuit_voltage_v,
            resistance_ohm=ohm,
        )
    # a table has NaN where no answer exists
    held = as_given(np.where(left_v > 0, 1.0, np.nan), left_v)
    return CellSagFigures(
        sag_v=sag_v * held,
        loaded_voltage_v=left_v * held,
        heat_w=asked.cell_current_a * sag_v * held,
        lost_power_ratio=sag_v / asked.open_circuit_voltage_v * held,
    )


def explain(asked: CellSag) -> Explained[CellSagFigures]:
    """Answer for one current."""
    got = figures(asked)
    ohm = asked.cell_resistance_ohm + asked.contact_resistance_ohm
    working = [
        WorkingStep(
            "Voltage lost in cell and contacts",
            "ΔU = I · (r + r_contact)",
            f"{asked.cell_current_a:.4g} A × {ohm:.4g} Ω",
            got.sag_v,
            "V",
        ),
        WorkingStep(
            "Voltage that is left for the load",
            "U = U₀ − ΔU",
            f"{asked.open_circuit_voltage_v:.4g} V − {got.sag_v:.4g} V",
            got.loaded_voltage_v,
            "V",
        ),
        WorkingStep(
            "Heat in cell and contacts",
            "P = I · ΔU",
            f"{asked.cell_current_a:.4g} A × {got.sag_v:.4g} V",
            got.heat_w,
            "W",
        ),
        WorkingStep(
            "Part of the cell's power that is lost",
            "ΔU / U₀",
            f"{got.sag_v:.4g} V / {asked.open_circuit_voltage_v:.4g} V",
            got.lost_power_ratio,
            "1",
        ),
    ]
    held = together(
        end_voltage(asked.chemistry, got.loaded_voltage_v, sagging=True),
        _charged(asked),
        Held([], _findings(asked, got)),
    )
    return Explained(
        figures=got,
        working=working,
        limits=held.limits,
        findings=held.findings,
        leads=f"the cell sags by {shown(got.sag_v)} V, to {_kept(asked, got)} V, within seconds",
    )


def _kept(asked: CellSag, got: CellSagFigures) -> str:
    """Return the voltage under load with the digits that keep it on its side of the end voltage."""
    return beside(got.loaded_voltage_v, VOLTAGES[asked.chemistry].end_v)


def _charged(asked: CellSag) -> Held:
    """Hold the voltage at which the cell rests against its charged voltage."""
    rest_v, preset = asked.open_circuit_voltage_v, VOLTAGES[asked.chemistry]
    highest_v = preset.charged_v + OVERCHARGE_V
    limit = judged(LimitName.CHARGED_VOLTAGE, rest_v, highest_v, "V", near=False)
    if limit.verdict is not Verdict.OVER:
        return Held([limit], [])
    return Held(
        [limit],
        [
            finding(
                rules.CHARGE_ABOVE_FULL,
                f"The cell rests at {given(rest_v)} V, more than {OVERCHARGE_V:g} V above the {preset.charged_v:g} V "
                f"to which a cell of {preset.name} is charged: do not use or charge it.",
            )
        ],
    )


def _findings(asked: CellSag, got: CellSagFigures) -> list[Finding]:
    found = [
        finding(
            rules.SAG_GROWS,
            f"{shown(got.sag_v)} V are lost within seconds; after minutes at {given(asked.cell_current_a)} A it is "
            "more.",
        )
    ]
    return found + resistance_assumed(asked.cell_resistance_ohm)


QUESTION = Question(
    id="cell-sag",
    subject=Subject.TIME_AND_HEAT,
    title="Sag of a cell under a current",
    description="How far the voltage of one cell falls under a current, at the first moment and for "
    "seconds, whether that is below the end of discharge, and how much of its power is lost as heat.",
    asked=CellSag,
    shows=CellSagFigures,
    limits=(LimitName.END_VOLTAGE, LimitName.CHARGED_VOLTAGE),
    explain=explain,
    figures=figures,
    table=OverTable.ARRAYS,
    no_effect=frozenset({"open_circuit_voltage_v", "chemistry"}),
    headline=Headline(
        field="sag_v", says="The cell sags by", unit="V", decimals=2, round=Rounding.UP
    ),
    example={"cell_current_a": 20, "open_circuit_voltage_v": 3.7},
)
