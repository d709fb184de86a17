"""What is the first rush of current between two like cells at different voltages?"""

from typing import Annotated

from msgspec import UNSET, Struct, UnsetType

from percell.physics import joining as formulas
from percell.physics.charging import USUAL_RATE, usual_charge_current_a
from percell.questions.answering.assumptions import assumptions
from percell.questions.answering.envelope import Assumption, WorkingStep
from percell.questions.answering.headline import Headline, Rounding
from percell.questions.answering.question import Explained, OverTable, Question, Subject
from percell.questions.unequal import rules
from percell.questions.unequal.joining import (
    USUAL_CHARGE_FROM,
    CellChargeLimitA,
    within_text,
)
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.fields import figure, quantity
from percell.questions.vocabulary.limits import judged
from percell.questions.vocabulary.rules import LimitName, finding
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import beside, given


class JoiningPair(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Two like cells, one at a higher voltage than the other."""

    voltage_difference_v: Annotated[
        float, quantity("V", 0, 4, "Difference of the two open-circuit voltages.")
    ]
    cell_capacity_ah: fields.CellCapacityAh
    cell_resistance_ohm: fields.LowCellResistanceOhm = fields.LOW_CELL_RESISTANCE_OHM
    contact_resistance_ohm: fields.ContactResistanceOhm = fields.CONTACT_RESISTANCE_OHM
    cell_charge_limit_a: CellChargeLimitA | UnsetType = UNSET


class JoiningPairFigures(Struct, frozen=True, gc=False):
    """The rush, and the difference that keeps it within what the cell takes."""

    rush_current_a: Annotated[float, figure("A", "Current out of one cell into the other.")]
    cell_charge_limit_a: Annotated[
        float, figure("A", "Charge current that the cell takes: as given, else the usual one.")
    ]
    highest_voltage_difference_v: Annotated[
        float, figure("V", "Within this difference no cell is charged faster than it takes.")
    ]


def figures(asked: JoiningPair) -> JoiningPairFigures:
    """Calculate the figures of one question, or of a whole table."""
    path_ohm = asked.cell_resistance_ohm + asked.contact_resistance_ohm
    given_a = asked.cell_charge_limit_a
    limit_a = (
        usual_charge_current_a(capacity_ah=asked.cell_capacity_ah) if given_a is UNSET else given_a
    )
    return JoiningPairFigures(
        rush_current_a=formulas.rush_current_a(
            voltage_apart_v=asked.voltage_difference_v,
            path_resistance_ohm=path_ohm,
            other_path_resistance_ohm=path_ohm,
        ),
        cell_charge_limit_a=limit_a,
        highest_voltage_difference_v=2 * path_ohm * limit_a,
    )


def explain(asked: JoiningPair) -> Explained[JoiningPairFigures]:
    """Answer for one pair."""
    got = figures(asked)
    path = f"({asked.cell_resistance_ohm:.4g} + {asked.contact_resistance_ohm:.4g}) Ω"
    limit = judged(LimitName.CHARGE_CURRENT, got.rush_current_a, got.cell_charge_limit_a, "A")
    working = [
        WorkingStep(
            "Current at the moment of joining",
            "I = ΔV / (2 · (r + r_contact))",
            f"{asked.voltage_difference_v:.4g} V / (2 × {path})",
            got.rush_current_a,
            "A",
        ),
        WorkingStep(
            "Difference at which that is just what the cell takes",
            "ΔV = I_limit · 2 · (r + r_contact)",
            f"{got.cell_charge_limit_a:.4g} A × 2 × {path}",
            got.highest_voltage_difference_v,
            "V",
        ),
    ]
    if asked.cell_charge_limit_a is UNSET:
        working.insert(
            1,
            WorkingStep(
                "Charge current that the cell takes, usually",
                "I_limit = q · 0.5 / h",
                f"{asked.cell_capacity_ah:.4g} Ah × {USUAL_RATE:g} / h",
                got.cell_charge_limit_a,
                "A",
            ),
        )
    findings = []
    if limit.verdict is Verdict.OVER:
        findings.append(
            finding(
                rules.JOINING_RUSH,
                f"The lower cell would be charged with {beside(got.rush_current_a, got.cell_charge_limit_a)} A, above "
                f"its charge limit of {given(got.cell_charge_limit_a)} A; within "
                f"{within_text(got.highest_voltage_difference_v)} of each other neither is charged too fast.",
            )
        )
    return Explained(figures=got, limits=[limit], working=working, findings=findings)


def assumed(asked: JoiningPair) -> list[Assumption]:
    """Return the defaults in use, and the charge limit assumed if none is given."""
    found = assumptions(asked)
    if asked.cell_charge_limit_a is UNSET:
        limit_a = usual_charge_current_a(capacity_ah=asked.cell_capacity_ah)
        found.append(Assumption("cell_charge_limit_a", limit_a, "A", USUAL_CHARGE_FROM))
    return found


QUESTION = Question(
    id="joining-pair",
    subject=Subject.UNEQUAL_CELLS,
    title="First rush between two like cells",
    description="Two like cells at different voltages are joined in parallel: the current at the first "
    "moment, and the difference that keeps it within what a cell takes.",
    asked=JoiningPair,
    shows=JoiningPairFigures,
    limits=(LimitName.CHARGE_CURRENT,),
    explain=explain,
    assumed=assumed,
    figures=figures,
    table=OverTable.ARRAYS,
    no_effect=frozenset({"cell_capacity_ah", "cell_charge_limit_a"}),
    headline=Headline(
        field="rush_current_a",
        says="At the first moment one cell pushes into the other",
        unit="A",
        decimals=1,
        round=Rounding.UP,
    ),
    example={"voltage_difference_v": 0.1, "cell_capacity_ah": 3.0, "cell_charge_limit_a": 4},
)
