"""What does the worst-case cell of a parallel group carry, when its cells scatter?"""

from collections.abc import Sequence
from itertools import groupby
from math import inf
from types import SimpleNamespace
from typing import Annotated, Any

import numpy as np
from msgspec import UNSET, Struct, UnsetType, structs

from percell.physics import spread as spreads
from percell.physics.meter import NOISE
from percell.questions.answering import rules as shared_rules
from percell.questions.answering.assumptions import assumptions
from percell.questions.answering.envelope import Assumption, WorkingStep
from percell.questions.answering.headline import Headline, Rounding, condition_of
from percell.questions.answering.question import Explained, OverTable, Question, Subject
from percell.questions.answering.rating_findings import if_rated
from percell.questions.unequal import rules
from percell.questions.unequal.charge_limit import (
    LARGEST_CHARGE_FROM,
    MOST_ASSUMED,
    UNKNOWN_CHARGE,
    CellChargeLimitA,
    largest_charge_limit_of_any_a,
    limit_assumed,
)
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.fields import figure, quantity, whole
from percell.questions.vocabulary.layout import MOST
from percell.questions.vocabulary.limits import Held, judged, not_judged, together, unbounded
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.rules import Finding, LimitName, finding
from percell.questions.vocabulary.sharing import (
    DRAWS,
    PERCENTILE,
    SEED,
    SPREAD,
    Feeds,
    Percentile,
    Sharing,
    counted_cells,
)
from percell.questions.vocabulary.verdict import Verdict, verdict
from percell.questions.vocabulary.wording import at_least, given, shown, worst

# bounds the time of an answer to some tenths of a second
MOST_DRAWN_CELLS = DRAWS * MOST

Parallel = Annotated[float, whole(2, MOST, "Number of cells in parallel.")]
GroupCurrentA = Annotated[float, quantity("A", 0.1, 2000, "Current out of the group.")]


class SharingBySpread(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Cells in parallel that differ at random in resistance, contacts and voltage."""

    parallel: Parallel
    group_current_a: GroupCurrentA
    cell_rating_a: fields.CellRatingA | UnsetType = UNSET
    cell_charge_limit_a: CellChargeLimitA | UnsetType = UNSET
    cell_resistance_ohm: fields.LowCellResistanceOhm = fields.LOW_CELL_RESISTANCE_OHM
    resistance_spread: Annotated[
        float,
        quantity(
            "1",
            0,
            spreads.WIDEST,
            "Relative standard deviation of the cells' resistance. A value beyond three standard "
            "deviations counts as three.",
        ),
    ] = SPREAD
    contact_resistance_ohm: Annotated[
        float,
        quantity(
            "Ω",
            0,
            1,
            "Mean resistance of one cell's contacts.",
            default_from="the cell's resistance and its spread then include the contacts",
        ),
    ] = 0.0
    contact_spread: Annotated[
        float,
        quantity(
            "1",
            0,
            spreads.WIDEST,
            "Relative standard deviation of the contacts' resistance, treated like that of the cells.",
            default_from=fields.NOTHING_GIVEN,
        ),
    ] = 0.0
    voltage_spread_v: Annotated[
        float,
        quantity(
            "V",
            0,
            0.3,
            "Standard deviation of the open-circuit voltages, treated like that of the resistance.",
            default_from="cells wired in parallel come to one voltage at rest",
        ),
    ] = 0.0
    percentile: Percentile = PERCENTILE
    random_groups: Annotated[
        float,
        whole(
            1000,
            1_000_000,
            "Number of groups drawn at random.",
            default_from="percell's own choice: the printed digits no longer change",
        ),
    ] = float(DRAWS)
    seed: Annotated[
        float,
        whole(
            0,
            2**32 - 1,
            "Seed of the random numbers. The same seed leads to the same answer.",
            default_from="percell's own choice, so an answer can be asked again",
        ),
    ] = float(SEED)


class SharingBySpreadFigures(Struct, frozen=True, gc=False):
    """The worst-case cell of groups drawn at random."""

    chance_above_allowance: Annotated[
        float,
        figure("1", "Part of the groups in which a cell carries more than by the P − ½ rule."),
    ]
    chance_error: Annotated[
        float, figure("1", "Standard error of this part, from the number of groups.")
    ]
    even_share: Annotated[float, figure("1", "Share of each cell if all were equal.")]
    allowance_share: Annotated[
        float, figure("1", "Share of the worst-case cell by the P − ½ rule.")
    ]
    worst_cell_mean_share: Annotated[float, figure("1", "Mean share of the worst-case cell.")]
    worst_cell_share: Annotated[
        float,
        figure(
            "1",
            "Share of the worst-case cell at the percentile. Above 1 if cells charge others.",
        ),
    ]
    even_cell_current_a: Annotated[float, figure("A", "Current of each cell if shared evenly.")]
    allowance_cell_current_a: Annotated[
        float, figure("A", "Current of the worst-case cell by the P − ½ rule.")
    ]
    worst_cell_current_a: Annotated[
        float, figure("A", "Current of the worst-case cell at the percentile.")
    ]
    worst_cell_charge_current_a: Annotated[
        float,
        figure(
            "A",
            "Current into the most charged cell at the percentile, while the load is off. 0 if the voltages "
            "are equal.",
        ),
    ]


def figures(asked: SharingBySpread) -> SharingBySpreadFigures:
    """Calculate the figures of one question, or of a table: each entry is drawn separately."""
    names = SharingBySpread.__struct_fields__
    values = [getattr(asked, name) for name in names]
    if all(np.ndim(value) == 0 for value in values):
        (alone,) = _drawn([asked])
        return alone
    cells = np.broadcast(*values)
    asks = [SimpleNamespace(**dict(zip(names, one, strict=True))) for one in cells]
    got = [structs.astuple(one) for _, alike in groupby(asks, _groups) for one in _drawn([*alike])]
    columns: list[Any] = [np.reshape(column, cells.shape) for column in zip(*got, strict=True)]
    return SharingBySpreadFigures(*columns)


def _groups(asked: SimpleNamespace) -> list[Any]:
    """Return what decides which groups are drawn: everything but the size of the spread."""
    return [
        value if name != "resistance_spread" else value > 0 for name, value in vars(asked).items()
    ]


def _drawn(alike: Sequence[SharingBySpread | SimpleNamespace]) -> list[SharingBySpreadFigures]:
    """Calculate questions that differ only in the spread of the cells' resistance."""
    one = alike[0]
    parallel = int(one.parallel)
    allowed = spreads.allowance_share(parallel=parallel)
    got = spreads.worst_cell_share_spreads(
        parallel=parallel,
        group_current_a=one.group_current_a,
        cell_resistance_ohm=one.cell_resistance_ohm,
        resistance_deviations=[asked.resistance_spread for asked in alike],
        contact_resistance_ohm=one.contact_resistance_ohm,
        contact_deviation=one.contact_spread,
        source_voltage_deviation_v=one.voltage_spread_v,
        levels=(one.percentile,),
        draws=int(one.random_groups),
        seed=int(one.seed),
    )
    return [
        SharingBySpreadFigures(
            chance_above_allowance=spread.above_allowance,
            chance_error=spread.above_allowance_error,
            even_share=1 / parallel,
            allowance_share=allowed,
            worst_cell_mean_share=spread.mean_share,
            worst_cell_share=spread.share_at[0],
            even_cell_current_a=one.group_current_a / parallel,
            allowance_cell_current_a=allowed * one.group_current_a,
            worst_cell_current_a=spread.share_at[0] * one.group_current_a,
            worst_cell_charge_current_a=spread.charge_at_a[0],
        )
        for spread in got
    ]


def _working(asked: SharingBySpread, got: SharingBySpreadFigures) -> list[WorkingStep]:
    parallel, amps = int(asked.parallel), asked.group_current_a
    drawn = f"{int(asked.random_groups):,} groups drawn with seed {int(asked.seed)}"
    return [
        WorkingStep(
            "Share of each cell if all were equal",
            "s = 1 / P",
            f"1 / {parallel}",
            got.even_share,
            "1",
        ),
        WorkingStep(
            "Share by the P − ½ rule",
            "s = 1 / (P − ½)",
            f"1 / ({parallel} − ½)",
            got.allowance_share,
            "1",
        ),
        WorkingStep(
            f"Share of the worst-case cell in {_part(asked)} of groups, {drawn}",
            "s = max I_i / I, with I_i = I·g_i/Σg + (E_i − E)·g_i and g = 1/(r + r_contact)",
            f"P = {parallel}, I = {amps:.4g} A, r = {asked.cell_resistance_ohm:.4g} Ω with a spread of "
            f"{asked.resistance_spread:g}, r_contact = {asked.contact_resistance_ohm:.4g} Ω with a "
            f"spread of {asked.contact_spread:g}, E with a spread of {asked.voltage_spread_v:g} V",
            got.worst_cell_share,
            "1",
        ),
        WorkingStep(
            "Current of the worst-case cell",
            "I_cell = s · I",
            f"{got.worst_cell_share:.4g} × {amps:.4g} A",
            got.worst_cell_current_a,
            "A",
        ),
        WorkingStep(
            "Part of the groups above the P − ½ rule",
            "number of groups with s > 1 / (P − ½), over all groups",
            f"{round(got.chance_above_allowance * asked.random_groups)} / {int(asked.random_groups)}",
            got.chance_above_allowance,
            "1",
        ),
        WorkingStep(
            "Standard error of this part",
            "√(p·(1 − p) / groups)",
            f"√({got.chance_above_allowance:.4g} × (1 − {got.chance_above_allowance:.4g}) / "
            f"{int(asked.random_groups)})",
            got.chance_error,
            "1",
        ),
    ]


def beside_careful(
    *,
    parallel: float,
    share: float,
    group_current_a: float,
    rating_a: float | UnsetType,
    how: str,
) -> list[Finding]:
    """Return the findings about a share that differs from the careful one, behind a converter or under a coil.

    Args:
        parallel: Cells in parallel.
        share: Share of the worst-case cell in the answer.
        group_current_a: Current out of the group. [A]
        rating_a: Continuous rating of a cell, if known. [A]
        how: What the share was calculated for, in words.
    """
    careful = 1 / float(counted_cells(Sharing.CAREFUL, int(parallel), Feeds.CONVERTER))
    careful_a = careful * group_current_a
    rated_a = inf if rating_a is UNSET else rating_a
    coil_a = group_current_a / float(counted_cells(Sharing.CAREFUL, int(parallel), Feeds.COIL))
    under_coil = []
    # what is over behind a converter is said below
    others_a = max(share * group_current_a, careful_a)
    if verdict(coil_a, rated_a) is Verdict.OVER and verdict(others_a, rated_a) is not Verdict.OVER:
        under_coil = [
            finding(
                shared_rules.SHARING_CHOSEN,
                f"Calculated for {how}, as asked. Under a coil, percell assumes {worst(coil_a, rated_a)} A (above "
                "the rating) in the worst-case cell by default.",
            )
        ]
    if share > careful * (1 + NOISE):
        carried, expected = worst(share * group_current_a, inf), at_least(careful_a)
        return [
            finding(
                rules.SHARE_ABOVE_CAREFUL,
                f"The worst-case cell carries {carried} A of the group's {given(group_current_a)} A. That is more than "
                f"the {expected} A that percell assumes by default behind a converter.",
            ),
            *under_coil,
        ]
    if under_coil:
        return under_coil
    if share < careful * (1 - NOISE):
        above = " (above the rating)" if verdict(careful_a, rated_a) is Verdict.OVER else ""
        return [
            finding(
                shared_rules.SHARING_CHOSEN,
                f"Calculated for {how}, as asked. By default, percell assumes {worst(careful_a, rated_a)} A{above} in "
                "the worst-case cell behind a converter.",
            )
        ]
    return []


def _part(asked: SharingBySpread) -> str:
    return f"{given(asked.percentile * 100)} %"


def _groups_in_words(asked: SharingBySpread) -> str:
    return f"a resistance spread of {given(asked.resistance_spread * 100)} %"


def _charging(asked: SharingBySpread, got: SharingBySpreadFigures) -> Held:
    """Compare the current into the most charged cell with its charge limit."""
    charge_a = got.worst_cell_charge_current_a
    if not charge_a:
        return Held([unbounded(LimitName.CHARGE_CURRENT)], [])
    limit_a = _charge_limit_a(asked)
    limit = judged(LimitName.CHARGE_CURRENT, charge_a, limit_a, "A")
    says = f"While the load is off, in {_part(asked)} of such groups a cell is charged with at most"
    if limit.verdict is Verdict.OVER:
        of_which = MOST_ASSUMED if asked.cell_charge_limit_a is UNSET else ""
        said = f"{says} {worst(charge_a, limit_a)} A, above its charge limit of {given(limit_a)} A{of_which}."
        return Held([limit], [finding(rules.NEIGHBOURS_TOO_FAST, said)])
    if asked.cell_charge_limit_a is UNSET:
        limit = not_judged(limit, UNKNOWN_CHARGE)
    said = f"{says} {shown(charge_a)} A by the other cells."
    return Held([limit], [finding(rules.CHARGED_BY_NEIGHBOURS, said)])


def _charge_limit_a(asked: SharingBySpread) -> float:
    if asked.cell_charge_limit_a is UNSET:
        return largest_charge_limit_of_any_a(asked.cell_rating_a)
    return asked.cell_charge_limit_a


def _assumed(asked: SharingBySpread) -> list[Assumption]:
    """Return the defaults in use; a charge limit only if cells may charge each other."""
    found = assumptions(asked)
    if asked.voltage_spread_v > 0 and asked.cell_charge_limit_a is UNSET:
        found.append(limit_assumed(_charge_limit_a(asked), LARGEST_CHARGE_FROM))
    return found


def explain(asked: SharingBySpread) -> Explained[SharingBySpreadFigures]:
    """Answer for one group."""
    if asked.random_groups * asked.parallel > MOST_DRAWN_CELLS:
        raise Refused(
            "random_groups",
            f"Give {int(MOST_DRAWN_CELLS // asked.parallel):,} groups or fewer for {int(asked.parallel)} cells in parallel. "
            f"Groups times cells must not exceed {MOST_DRAWN_CELLS:,}.",
        )
    got = figures(asked)
    rated, step = if_rated(worst_cell_a=got.worst_cell_current_a, rating_a=asked.cell_rating_a)
    how = f"{_groups_in_words(asked)} and {_part(asked)} of groups"
    above = beside_careful(
        parallel=asked.parallel,
        share=got.worst_cell_share,
        group_current_a=asked.group_current_a,
        rating_a=asked.cell_rating_a,
        how=how,
    )
    held = together(rated, _charging(asked, got), Held([], above))
    rating_a = inf if asked.cell_rating_a is UNSET else asked.cell_rating_a
    return Explained(
        figures=got,
        working=_working(asked, got) + step,
        limits=held.limits,
        findings=held.findings,
        # the figure is said with them
        condition=condition_of(asked, resistance_spread="", percentile=""),
        leads=f"with {_groups_in_words(asked)}, in {_part(asked)} of groups the worst-case cell carries at most "
        f"{worst(got.worst_cell_current_a, rating_a)} A, {worst(got.worst_cell_share * 100, inf)} % of the group's current",
    )


QUESTION = Question(
    id="sharing-by-spread",
    subject=Subject.UNEQUAL_CELLS,
    title="Share of the worst-case cell by the spread of resistance",
    description="Current of the worst-case cell when parallel cells differ at random, and how often it exceeds "
    "the P − ½ rule.",
    asked=SharingBySpread,
    shows=SharingBySpreadFigures,
    limits=(LimitName.CONTINUOUS_RATING, LimitName.CHARGE_CURRENT),
    explain=explain,
    assumed=_assumed,
    figures=figures,
    table=OverTable.ARRAYS,
    # if the voltages are equal, only the spread of the resistances counts
    no_effect=frozenset(
        {
            "group_current_a",
            "cell_rating_a",
            "cell_charge_limit_a",
            "cell_resistance_ohm",
            "percentile",
            "random_groups",
            "seed",
        }
    ),
    heavy=True,
    headline=Headline(
        field="worst_cell_current_a",
        says="At the percentile the worst-case cell carries",
        unit="A",
        decimals=1,
        round=Rounding.UP,
    ),
    example={"parallel": 3, "group_current_a": 40, "cell_rating_a": 20},
)
