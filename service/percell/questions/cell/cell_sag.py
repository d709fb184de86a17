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
from percell.questions.answering.voltage_findings import resistance_assumed
from percell.questions.cell import rules
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.fields import figure
from percell.questions.vocabulary.rules import Finding, finding


class CellSag(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One cell under a current."""

    cell_current_a: fields.CellCurrentA
    open_circuit_voltage_v: fields.CellOpenCircuitVoltageV
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
    return Explained(figures=got, working=working, findings=_findings(asked, got))


def _findings(asked: CellSag, got: CellSagFigures) -> list[Finding]:
    found = [
        finding(
            rules.SAG_GROWS,
            f"{got.sag_v:.3g} V are lost at once; after minutes at {asked.cell_current_a:g} A it is more.",
        )
    ]
    return found + resistance_assumed(asked.cell_resistance_ohm)


QUESTION = Question(
    id="cell-sag",
    subject=Subject.TIME_AND_HEAT,
    title="Sag of a cell under a current",
    description="How far the voltage of one cell falls under a current, at the first moment and for "
    "seconds, and how much of its power is lost as heat.",
    asked=CellSag,
    shows=CellSagFigures,
    explain=explain,
    figures=figures,
    table=OverTable.ARRAYS,
    no_effect=frozenset({"open_circuit_voltage_v"}),
    headline=Headline(
        field="sag_v", says="The cell sags by", unit="V", decimals=2, round=Rounding.UP
    ),
    example={"cell_current_a": 20, "open_circuit_voltage_v": 3.7},
)
