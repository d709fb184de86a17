"""A bench card: what one cell can handle in each wiring, on one sheet. Every figure is the answer to a question."""

from collections.abc import Iterator
from typing import Any, NamedTuple
from urllib.parse import urlencode

import msgspec
from msgspec import UNSET, Struct, UnsetType

from percell.questions.answering.conditions import conditions
from percell.questions.answering.echo import changed
from percell.questions.answering.envelope import Assumption
from percell.questions.answering.figure_text import figure_text
from percell.questions.answering.headline import Rounding, condition_of, rounded
from percell.questions.cell.charging_limits import HIGHEST_C, LOWEST_C
from percell.questions.cell.label_doubt import label_doubt
from percell.questions.registry import QUESTIONS
from percell.questions.unequal.charge_limit import USUAL_CHARGE_FROM, CellChargeLimitA
from percell.questions.vocabulary import fields
from percell.questions.vocabulary.cell_resistance import OwnResistance
from percell.questions.vocabulary.chemistry import VOLTAGES, Chemistry, ChemistryField
from percell.questions.vocabulary.labels import lowered
from percell.questions.vocabulary.layout import USUAL
from percell.questions.vocabulary.rules import LimitName
from percell.questions.vocabulary.sizes import CellSizeField
from percell.questions.vocabulary.verdict import Verdict
from percell.questions.vocabulary.wording import given
from percell.web.ask_pages.shown import LOOKS, SIGNS
from percell.web.translate import NO_ANSWER

# powers behind a converter, for each cell
_WATTS = (1, 2, 3, 5, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100, 150)
# one sheet has room for so many of them
_MOST_TIMES = 6
_MINUTE_S = 60
_ESTIMATE = "running-time-estimate"


class BenchCard(OwnResistance, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A cell, as far as it is known."""

    cell_rating_a: fields.CellRatingA
    cell_capacity_ah: fields.CellCapacityAh | UnsetType = UNSET
    cell_size: CellSizeField | UnsetType = UNSET
    chemistry: ChemistryField = Chemistry.NMC
    cell_cutoff_voltage_v: fields.CellCutoffVoltageV | UnsetType = UNSET
    cell_charge_limit_a: CellChargeLimitA | UnsetType = UNSET


class CardForm(NamedTuple):
    """What a form asks for a card."""

    id: str
    asked: type[Struct]
    description: str
    has_query: bool = True


CARD = CardForm(
    "bench-card",
    BenchCard,
    "One sheet for a cell: the lowest coil and the highest power in each wiring, running times and charging.",
)


class Figure(NamedTuple):
    """One figure with its mark, and the address of the answer that it comes from."""

    text: str
    sign: str
    look: str
    why: str
    link: str


class Row(NamedTuple):
    """A row of a table of the card."""

    label: str
    words: str
    figures: list[Figure]


class Bound(NamedTuple):
    """A bound of charging, and where it comes from."""

    label: str
    text: str
    origin: str


class Card(NamedTuple):
    """All that a card says."""

    entered: str
    title: str
    doubt: str
    doubt_look: str
    holds_for: str
    cutoffs: list[str]
    rows: list[Row]
    times: list[Row]
    # how far off the times can be, or why there are none
    about_times: str
    charging: list[Bound]


class _Asked(NamedTuple):
    """An answer, and the address that asks for it."""

    answer: Any
    link: str


def bench_card(card: BenchCard) -> Card:
    """Return the card of a cell.

    Raises:
        Refused: What was typed contradicts itself.
        NoSolution: There is no physical answer.
    """
    entered = f"For {lowered(condition_of(card))}, as entered"
    doubt = label_doubt(
        rating_a=card.cell_rating_a,
        capacity_ah=_known(card.cell_capacity_ah),
        size=_known(card.cell_size),
        chemistry=card.chemistry,
    )
    if doubt:
        entered += f" {doubt.briefly}"
    cutoffs = _cutoffs(card)
    rows, assumed = _limits(card, cutoffs)
    if doubt:
        marked = _without_figures if doubt.verdict is Verdict.OVER else _doubtful
        rows = [marked(row) for row in rows]
    times, about_times = _times(card, cutoffs[0])
    return Card(
        entered=entered,
        title=f"{entered}: bench card",
        doubt=doubt.sentence if doubt else "",
        doubt_look=LOOKS[doubt.verdict] if doubt else "",
        holds_for=conditions({}, assumed),
        cutoffs=[_cutoff_text(card, cutoff) for cutoff in cutoffs],
        rows=rows,
        times=times,
        about_times=about_times,
        charging=list(_charging(card)),
    )


def _known(value: Any) -> Any:
    return None if value is UNSET else value


def _cutoffs(card: BenchCard) -> list[float]:
    """Return the cut-off that was typed, or those of devices, lowest first."""
    if card.cell_cutoff_voltage_v is not UNSET:
        return [card.cell_cutoff_voltage_v]
    return sorted(VOLTAGES[card.chemistry].device_cutoffs_v)


def _cutoff_text(card: BenchCard, cutoff: float) -> str:
    lowest = card.cell_cutoff_voltage_v is UNSET and cutoff == _cutoffs(card)[0]
    return f"{given(cutoff)} V" + (", or unknown" if lowest else "")


def _ask(name: str, card: BenchCard, **more: Any) -> _Asked:
    """Return the answer to a question about the cell of the card."""
    question = QUESTIONS[name]
    told = {n: v for n, v in changed(card).items() if n in question.asked.__struct_fields__}
    query = told | more
    asked = msgspec.convert(query, question.asked)
    answer = question.assemble(asked, question.explained(asked))
    return _Asked(answer, f"/ask/{name}?{urlencode({n: _plain(v) for n, v in query.items()})}")


def _plain(value: Any) -> Any:
    return int(value) if isinstance(value, float) and value.is_integer() else value


def _limits(card: BenchCard, cutoffs: list[float]) -> tuple[list[Row], list[Assumption]]:
    """Return the lowest coil and the highest powers of each layout, and the defaults behind them."""
    rows: list[Row] = []
    assumed: dict[str, Assumption] = {}
    for layout, words in USUAL.items():
        coil = _ask("lowest-resistance", card, layout=layout)
        powers = [
            _ask("highest-power", card, layout=layout, cell_cutoff_voltage_v=cutoff)
            for cutoff in cutoffs
        ]
        reading = figure_text("lowest_reading_ohm", coil.answer.lowest_reading_ohm, "Ω")
        figures = [_figure(coil, reading)]
        figures += [_highest(power, card, layout) for power in powers]
        rows.append(Row(layout, words, figures))
        assumed |= {one.name: one for asked in (coil, *powers) for one in asked.answer.assumptions}
    return rows, list(assumed.values())


def _printed_w(power_w: float) -> float:
    return rounded(power_w, Rounding.DOWN, 0 if power_w >= 10 else 1)


def _power_text(power_w: float) -> str:
    return f"{_printed_w(power_w):.{0 if power_w >= 10 else 1}f} W"


def _figure(asked: _Asked, text: str) -> Figure:
    """Return a figure with its mark: none at all if it exceeds a limit."""
    verdict: Verdict = asked.answer.verdict
    over = [one.name.words for one in asked.answer.limits if one.verdict is Verdict.OVER]
    return Figure(
        text="none" if over else text,
        sign=SIGNS.get(verdict, ""),
        look=LOOKS.get(verdict, ""),
        why=", ".join(over),
        link=asked.link,
    )


def _highest(power: _Asked, card: BenchCard, layout: str) -> Figure:
    """Return the highest power at the rating, or what the cells supply if that is less.

    A higher cut-off allows no less power: the supply bounds it, and not the rating.
    """
    most_w = power.answer.highest_power_w
    over = [one for one in power.answer.limits if one.verdict is Verdict.OVER]
    if [one.name for one in over] == [LimitName.AVAILABLE_POWER] and over[0].value is not UNSET:
        supplied_w = _printed_w(most_w * over[0].value / over[0].figure)
        cutoff = power.answer.asked["cell_cutoff_voltage_v"]
        load = {"layout": layout, "cell_cutoff_voltage_v": cutoff, "output_power_w": supplied_w}
        supplied = _ask("converter-load", card, **load)
        return _figure(supplied, _power_text(supplied_w))
    return _figure(power, _power_text(most_w))


def _doubtful(row: Row) -> Row:
    """Return a row of limits whose figures are marked, because their rating must be checked first."""
    mark = {"sign": SIGNS[Verdict.LITTLE], "look": LOOKS[Verdict.LITTLE]}
    return row._replace(figures=[one if one.why else one._replace(**mark) for one in row.figures])


def _without_figures(row: Row) -> Row:
    """Return a row of limits without them: on a rating that is not believable rests none."""
    none = {"text": "none", "sign": SIGNS[Verdict.OVER], "look": LOOKS[Verdict.OVER]}
    why = LimitName.BELIEVABLE_RATING.words
    return row._replace(figures=[one._replace(**none, why=why) for one in row.figures])


def _times(card: BenchCard, cutoff: float) -> tuple[list[Row], str]:
    """Return the running times of one cell up to its highest power, and how far off the last can be."""
    if card.cell_capacity_ah is UNSET:
        return [], "Type the capacity to get running times."
    most = _ask("highest-power", card, layout="1S1P", cell_cutoff_voltage_v=cutoff).answer
    rows: list[Row] = []
    about = ""
    try:
        for watts in (watts for watts in _WATTS if watts <= most.highest_power_w):
            asked = _ask("running-time", card, layout="1S1P", output_power_w=watts)
            current = rounded(asked.answer.worst_cell_current_a, Rounding.UP, 1)
            time = _time_text(asked.answer.running_time_s)
            figures = [_figure(asked, f"{current:.1f} A"), _figure(asked, time)]
            rows.append(Row(f"{watts} W", "", figures))
            about = next(one.sentence for one in asked.answer.findings if one.rule == _ESTIMATE)
            if asked.answer.verdict is Verdict.OVER:
                break  # so does each higher power
    except NO_ANSWER as error:
        return [], f"No running times. {error.detail}"
    return rows[-_MOST_TIMES:], about


def _time_text(seconds: float) -> str:
    # a device that stops within a minute is of no use
    if seconds < _MINUTE_S:
        return "less than a minute"
    return f"{rounded(seconds / _MINUTE_S, Rounding.DOWN, 1):.1f} min"


def _charging(card: BenchCard) -> Iterator[Bound]:
    """Yield the bounds of charging one cell on its own."""
    voltages = VOLTAGES[card.chemistry]
    if card.cell_capacity_ah is not UNSET:
        try:
            answer = _ask("charging", card, layout="1S1P", charged_where="individually").answer
        except NO_ANSWER as error:
            yield Bound("Charge current", "as the manufacturer states it", error.detail)
        else:
            amps = rounded(answer.even_cell_charge_current_a, Rounding.DOWN, 2)
            minutes = rounded(answer.charging_time_s / _MINUTE_S, Rounding.UP, 0)
            is_limit = answer.even_cell_charge_current_a == _known(card.cell_charge_limit_a)
            yield Bound(
                "Charge current",
                f"{given(amps)} A at most, and never more than the manufacturer states",
                "the charge limit, as entered" if is_limit else USUAL_CHARGE_FROM,
            )
            yield Bound("Charging time", f"about {minutes:.0f} min from empty", "at that current")
    elif card.cell_charge_limit_a is not UNSET:
        amps = card.cell_charge_limit_a
        yield Bound("Charge current", f"{given(amps)} A at most", "as entered")
    else:
        yield Bound("Charge current", "as the manufacturer states it", "no limit typed")
    yield Bound(
        "Charged voltage",
        f"{given(voltages.charged_v)} V at most, for {voltages.short_name} cells",
        voltages.charged_from,
    )
    yield Bound(
        "Minimum voltage",
        f"{given(voltages.end_v)} V. Never charge a cell that has dropped below it",
        voltages.end_from,
    )
    yield Bound(
        "Temperature",
        f"{LOWEST_C:.0f} to {HIGHEST_C:.0f} °C while it charges",
        "public advice, see the cautions",
    )
