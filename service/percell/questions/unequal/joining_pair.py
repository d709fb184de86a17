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
from percell.questions.unequal.charge_limit import (
    CellChargeLimitA,
    believed,
    charge_current,
    limit_assumed,
    of_which,
)
from percell.questions.unequal.joining import within_text
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.cell_resistance import FIRST_FROM, first_ohm
from percell.questions.vocabulary.fields import figure, quantity
from percell.questions.vocabulary.limits import Held, together
from percell.questions.vocabulary.rules import LimitName, finding
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import given, shown, worst


class JoiningPair(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Two equal cells, one at a higher voltage than the other."""

    voltage_difference_v: Annotated[
        float, quantity("V", 0, 4, "Difference of the two open-circuit voltages.")
    ]
    cell_capacity_ah: fields.CellCapacityAh
    cell_resistance_ohm: fields.FirstResistanceOhm | UnsetType = UNSET
    contact_resistance_ohm: fields.LowContactResistanceOhm = 0.0
    cell_charge_limit_a: CellChargeLimitA | UnsetType = UNSET


class JoiningPairFigures(Struct, frozen=True, gc=False):
    """The first current, and the difference that keeps it within the charge limit."""

    rush_current_a: Annotated[
        float, figure("A", "Current from one cell into the other at the first moment.")
    ]
    cell_charge_limit_a: Annotated[
        float,
        figure(
            "A",
            "Charge limit of the cell, as given. If none was given, half its capacity per hour.",
        ),
    ]
    highest_voltage_difference_v: Annotated[
        float,
        figure("V", "Highest difference of voltage at which no cell is charged above its limit."),
    ]


def figures(asked: JoiningPair) -> JoiningPairFigures:
    """Calculate the figures of one question, or of a whole table."""
    path_ohm = first_ohm(asked) + asked.contact_resistance_ohm
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
    path = f"({first_ohm(asked):.4g} + {asked.contact_resistance_ohm:.4g}) Ω"
    held = _charging(asked, got)
    working = [
        WorkingStep(
            "Current at the moment of joining",
            "I = ΔV / (2 · (r + r_contact))",
            f"{asked.voltage_difference_v:.4g} V / (2 × {path})",
            got.rush_current_a,
            "A",
        ),
        WorkingStep(
            "Difference at which the current equals the charge limit",
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
                "Usual charge limit",
                "I_limit = q · 0.5 / h",
                f"{asked.cell_capacity_ah:.4g} Ah × {USUAL_RATE:g} / h",
                got.cell_charge_limit_a,
                "A",
            ),
        )
    return Explained(
        figures=got,
        limits=held.limits,
        working=working,
        findings=held.findings,
        leads="at first one cell charges the other with "
        f"{worst(got.rush_current_a, got.cell_charge_limit_a)} A",
    )


def _charging(asked: JoiningPair, got: JoiningPairFigures) -> Held:
    """Hold the rush to the charge limit."""
    rush_a, limit_a = got.rush_current_a, got.cell_charge_limit_a
    limit = charge_current(rush_a, limit_a, assumed=asked.cell_charge_limit_a is UNSET)
    doubt = believed(limit, asked.cell_charge_limit_a, asked.cell_capacity_ah)
    within = within_text(got.highest_voltage_difference_v)
    guessed = asked.cell_resistance_ohm is UNSET
    found = [
        finding(
            rules.JOIN_LIKE_CELLS,
            "Only join cells of the same make, age and history, each between its end-of-discharge and its charged "
            f"voltage. percell cannot check that. The highest difference of voltage for joining is {within}, for "
            f"{shown(first_ohm(asked))} Ω per cell{' (low for such cells)' if guessed else ''} and "
            f"{given(asked.contact_resistance_ohm)} Ω of contacts. With half the "
            "resistance, that difference is half.",
        )
    ]
    if limit.verdict is Verdict.OVER:
        rush = finding(
            rules.JOINING_RUSH,
            f"The cell with the lower voltage would be charged with {worst(rush_a, limit_a)} A, above its charge limit of "
            f"{given(limit_a)} A{of_which(asked.cell_charge_limit_a)}. Do not join these cells yet: "
            f"the highest difference for joining is {within}.",
        )
        found.insert(0, rush)
    return together(doubt, Held([], found))


def assumed(asked: JoiningPair) -> list[Assumption]:
    """Return the defaults in use, and the charge limit assumed if none is given."""
    found = assumptions(asked)
    if asked.cell_resistance_ohm is UNSET:
        found.append(Assumption("cell_resistance_ohm", first_ohm(asked), "Ω", FIRST_FROM))
    if asked.cell_charge_limit_a is UNSET:
        found.append(limit_assumed(usual_charge_current_a(capacity_ah=asked.cell_capacity_ah)))
    return found


QUESTION = Question(
    id="joining-pair",
    subject=Subject.UNEQUAL_CELLS,
    title="First current between two equal cells",
    description="Current when two equal cells at different voltages are joined in parallel, and the highest "
    "allowed difference of their voltages.",
    asked=JoiningPair,
    shows=JoiningPairFigures,
    limits=(LimitName.CHARGE_CURRENT,),
    explain=explain,
    assumed=assumed,
    figures=figures,
    table=OverTable.ARRAYS,
    no_effect=frozenset({"cell_charge_limit_a"}),
    headline=Headline(
        field="rush_current_a",
        says="At first one cell charges the other with",
        unit="A",
        decimals=1,
        round=Rounding.UP,
    ),
    example={"voltage_difference_v": 0.1, "cell_capacity_ah": 3.0, "cell_charge_limit_a": 4},
)
