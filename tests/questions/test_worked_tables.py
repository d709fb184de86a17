"""Every entry of every published table is asked again, and every table keeps its own promises.

The batch asks the service about a printed limit: at the printed value the worst-case cell is at or under
its rating, and one printed step further it is over.
"""

import json
import re
from collections import Counter
from typing import Any, NamedTuple

import msgspec
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from litestar.testing import TestClient

from percell.physics.errors import NoSolution
from percell.questions.answering.headline import Rounding
from percell.questions.answering.over_table import figures_over
from percell.questions.answering.tables import TablePrint, every_table
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.chemistry import preset
from percell.questions.vocabulary.refusal import Refused
from percell.questions.vocabulary.verdict import Verdict, gravest
from percell.questions.worked_tables import printed_table
from percell.web.app import create_app
from percell.web.batch import BATCH_LIMIT, HEAVY_LIMIT

TABLES = every_table()
HIGHEST_RATING_A = 200.0
every = pytest.mark.parametrize("table_id", TABLES)


@pytest.fixture(scope="module")
def batch():
    """Return the function that asks the service many questions at once."""
    with TestClient(create_app()) as client:

        def ask(items):
            found = []
            heavy = any(QUESTIONS[question].heavy for question, _ in items)
            size = HEAVY_LIMIT if heavy else BATCH_LIMIT
            for start in range(0, len(items), size):
                body = [
                    {"question": question, "ask": body}
                    for question, body in items[start : start + size]
                ]
                reply = client.post("/v1/batch", json={"items": body})
                assert reply.status_code == 200, reply.text
                found += reply.json()["items"]
            return found

        yield ask


class Printed(NamedTuple):
    """One figure in one cell of a table, and the question that the cell asks."""

    table: str
    body: dict[str, Any]
    field: str
    value: float | str
    step: float
    per: float
    rounding: Rounding


def printed(table_id):
    """Return every figure of a table."""
    table, whole = TABLES[table_id], printed_table(table_id)
    found = []
    for row in whole.rows:
        for heading, cell in zip(whole.columns, row.cells, strict=True):
            body = dict(table.fixed) | {table.rows_by.field: row.value}
            body |= dict(
                zip([axis.field for axis in table.columns_by], heading.values, strict=True)
            )
            for shown, value in zip(table.prints, cell.values, strict=True):
                found.append(
                    Printed(
                        table_id,
                        body,
                        shown.field,
                        value,
                        10.0**-shown.decimals,
                        shown.per,
                        shown.round,
                    )
                )
    return found


# proofs: the question and body that test a printed figure, moved by a number of steps;
# a figure that is careful for its reader is within at 0 and over at the step given


def of_lowest_coil(it, steps):
    """A coil for which the meter shows the printed reading."""
    return "direct-load", it.body | {"coil_reading_ohm": it.value + steps * it.step}


def of_lowest_resistance(it, steps):
    """A coil of the printed resistance."""
    return "direct-load", it.body | {"coil_resistance_ohm": it.value + steps * it.step}


def of_rush_current(it, steps):
    """Cells that take the printed current."""
    return "joining-pair", it.body | {"cell_charge_limit_a": it.value + steps * it.step}


def of_coil_current(it, steps):
    """Cells rated for the printed current; above what a rating may be, an even share of a wider pack:
    without sag, width does not change the current out of the pack."""
    current_a = it.value + steps * it.step
    if current_a <= HIGHEST_RATING_A:
        return "direct-load", it.body | {"cell_rating_a": current_a}
    series, parallel = it.body["layout"].removesuffix("P").split("S")
    counted = {"1": 1, "2": 1.5}[parallel]  # as P − ½ has it for two cells
    return "direct-load", it.body | {
        "layout": f"{series}S20P",
        "sharing": "even",
        "cell_rating_a": current_a * counted / 20,
    }


def of_cell_current(it, steps):
    """Cells rated for the printed current."""
    return "converter-load", it.body | {"cell_rating_a": it.value + steps * it.step}


def of_highest_power(it, steps):
    """A converter set to the printed power."""
    return "converter-load", it.body | {"output_power_w": it.value + steps * it.step}


def of_lowest_reading(it, steps):
    """A cell at its rating with a coil of that true resistance, and the reading of the coil."""
    meter = {name: value for name, value in it.body.items() if name != "lowest_resistance_ohm"}
    return "direct-load", meter | {
        "layout": "1S1P",
        "cell_rating_a": 4.2 / it.body["lowest_resistance_ohm"],
        "coil_reading_ohm": it.value + steps * it.step,
    }


# by table's question and figure: the proof, and the step that goes too far
LIMITS = {
    ("lowest-resistance", "lowest_reading_ohm"): (of_lowest_coil, -1),
    ("lowest-resistance", "lowest_resistance_ohm"): (of_lowest_resistance, -1),
    ("meter-reading", "lowest_reading_ohm"): (of_lowest_reading, -1),
    ("joining-pair", "rush_current_a"): (of_rush_current, -1),
    ("direct-load", "worst_cell_current_a"): (of_coil_current, -1),
    ("converter-load", "worst_cell_current_a"): (of_cell_current, -1),
    ("highest-power", "highest_power_w"): (of_highest_power, +1),
    ("needed-rating", "needed_rating_a"): (of_cell_current, -1),
}
# figures that are no limit of a rating: the answer to the cell's question lies within one step of
# print on the side that the table names
SAME = {
    ("direct-load", "coil_power_w"),
    ("direct-load", "lowest_true_resistance_ohm"),
    ("sharing-by-spread", "chance_above_allowance"),
    ("sharing-by-mismatch", "worst_cell_share"),
    ("weak-cell-drift", "lowest_at_cutoff_v"),
    ("weak-cell-drift", "highest_at_charged_v"),
    ("temperature-rise", "settled_peak_temperature_c"),
    ("charging", "charging_allowed"),
    ("charging", "charging_time_s"),
    # test_running_time.py asks the options whether it runs that long, and no step longer
    ("running-time", "running_time_s"),
    ("running-time", "used_capacity"),
    ("cell-sag", "lasting_sag_v"),
    ("cell-sag", "lasting_loaded_voltage_v"),
    ("highest-power", "full_pack_power_ratio"),
    ("needed-rating", "full_pack_power_ratio"),
    ("converter-load", "full_pack_power_ratio"),
    ("coil-from-wire", "resistance_ohm_m"),
    ("coil-from-wire", "resistance_lowest_ohm_m"),
    # test_coil_from_wire.py winds half a turn less, and finds it below the wanted resistance
    ("coil-from-wire", "turns"),
    ("coil-from-wire", "turns_at_lowest"),
    ("cell-health", "cell_health"),
    ("cell-health", "health_mark"),
    # test_label_check.py asks just below, at and just above each of these
    ("label-check", "usual_capacity_ah"),
    ("label-check", "highest_capacity_ah"),
    ("label-check", "usual_rating_a"),
    ("label-check", "highest_rating_a"),
    ("label-check", "capacity_plausibility"),
    ("pack", "pack_charged_voltage_v"),
    ("pack", "pack_nominal_voltage_v"),
    ("pack", "pack_cutoff_voltage_v"),
    ("pack", "pack_capacity_ah"),
    ("pack", "pack_energy_wh"),
    ("pack", "pack_resistance_ohm"),
    ("pack", "pack_current_limit_even_a"),
    ("pack", "pack_current_limit_a"),
}


@every
def test_every_cell_asked_again(table_id, batch):
    """At its printed value each cell is at or under the rating, and one finer step would be over."""
    table = TABLES[table_id]
    asked = []
    for it in printed(table_id):
        assert it.value is not None, f"{it.body}: no figure is printed"
        key = (table.question, it.field)
        if key in LIMITS:
            proof, too_far = LIMITS[key]
            asked += [(it, True, *proof(it, 0)), (it, False, *proof(it, too_far))]
        else:
            assert key in SAME, f"{key}: a printed figure without a proof; add one to this module"
    answers = batch([(question, body) for _, _, question, body in asked]) if asked else []
    for (it, within, question, body), reply in zip(asked, answers, strict=True):
        assert reply["status"] == 200, (question, body, reply)
        # the first limit is the one that the question is about; others may be over at any current
        judged = reply["answer"]["limits"][0]
        assert (judged["verdict"] != Verdict.OVER) is within, (it, question, body)


@every
def test_every_cell_is_the_answer_rounded(table_id, batch):
    """Each printed figure is the service's answer, rounded by less than one step to the named side."""
    table = TABLES[table_id]
    cells = printed(table_id)
    for it, reply in zip(cells, batch([(table.question, it.body) for it in cells]), strict=True):
        exact = reply["answer"][it.field]
        if it.rounding is Rounding.WORD:
            assert it.value == exact
            continue
        exact /= it.per
        noise = 1e-9 * abs(exact)
        by = {
            Rounding.UP: it.value - exact,
            Rounding.DOWN: exact - it.value,
            Rounding.NEAREST: abs(it.value - exact) + it.step / 2,
        }[it.rounding]
        assert -noise <= by <= it.step * (1 + 1e-9), it
        assert it.value == round(it.value, 10), "prints as it stands"


@every
def test_no_entry_is_milder_than_its_answer(table_id, batch):
    """No mark of an entry's figures is milder than the verdict of the answer to the entry."""
    table, whole = TABLES[table_id], printed_table(table_id)
    asked, marks = [], []
    for row in whole.rows:
        for heading, cell in zip(whole.columns, row.cells, strict=True):
            body = dict(table.fixed) | {table.rows_by.field: row.value}
            body |= dict(
                zip([axis.field for axis in table.columns_by], heading.values, strict=True)
            )
            asked.append((table.question, body))
            marks.append(cell.verdicts)
    for (_, body), own, reply in zip(asked, marks, batch(asked), strict=True):
        verdict = reply["answer"].get("verdict")
        marked = [mark for mark in own if mark]
        if marked:
            assert gravest([verdict, *marked]) == gravest(marked), body
        else:
            assert verdict not in (Verdict.OVER, Verdict.LITTLE), body


@every
def test_what_a_table_assumes_is_told_in_words(table_id):
    """Each fixed field and each default has its label, its value and its origin, and no field's name is among them."""
    whole = printed_table(table_id)
    assert len(whole.in_words) == len(whole.fixed) + len(whole.assumptions)
    for one in whole.in_words:
        assert "_" not in one.label + one.value
    defaults = whole.in_words[len(whole.fixed) :]
    assert [one.origin for one in defaults] == [a.origin for a in whole.assumptions]
    labels = [one.label for one in whole.in_words]
    assert len({*labels}) == len(labels)


BY_RATING = [name for name, table in TABLES.items() if table.marks_by_rating]


def mark_for(marks, value):
    """Return the verdict on a printed figure by the thresholds of a rating."""
    if value <= marks.within_limit_up_to:
        return Verdict.WITHIN
    return Verdict.LITTLE if value <= marks.little_headroom_up_to else Verdict.OVER


@pytest.mark.parametrize("table_id", BY_RATING)
def test_no_mark_for_another_rating_is_milder_than_the_answer(table_id, batch):
    """For each rating that readers can choose, no entry is milder than what the API says of such cells."""
    table, whole = TABLES[table_id], printed_table(table_id)
    by_rating = whole.marks_by_rating
    at = [shown.field for shown in whole.prints].index(by_rating.print)
    # a needed rating is held against a rating by the question about the load itself
    question = "converter-load" if table.question == "needed-rating" else table.question
    for marks in by_rating.ratings:
        asked, own = [], []
        for row in whole.rows:
            for heading, cell in zip(whole.columns, row.cells, strict=True):
                body = table.fixed | {table.rows_by.field: row.value}
                body |= dict(zip([a.field for a in table.columns_by], heading.values, strict=True))
                asked.append((question, body | {"cell_rating_a": marks.cell_rating_a}))
                # only the mark of one figure is replaced; a limit that no rating changes stays
                kept = [v for i, v in enumerate(cell.verdicts) if v and i != at]
                kept += [] if by_rating.replaces else [cell.verdicts[at]]
                own.append(gravest([mark_for(marks, cell.values[at]), *kept]))
        for (_, body), mark, reply in zip(asked, own, batch(asked), strict=True):
            assert gravest([reply["answer"]["verdict"], mark]) == mark, body


@pytest.mark.parametrize("table_id", BY_RATING)
def test_the_rating_that_a_table_is_marked_for_is_among_the_others(table_id):
    """The marks for it are the table's own, figure by figure and word by word, and the words name each rating."""
    table, whole = TABLES[table_id], printed_table(table_id)
    by_rating = whole.marks_by_rating
    for marks in by_rating.ratings:
        assert all(f"{marks.cell_rating_a:g} A" in words for words in marks.says.values())
    if not by_rating.replaces:
        return
    at = [shown.field for shown in whole.prints].index(by_rating.print)
    (own,) = [m for m in by_rating.ratings if m.cell_rating_a == table.fixed["cell_rating_a"]]
    assert own.says == whole.prints[at].mark.says
    assert own.conditions == whole.conditions
    for row in whole.rows:
        for cell in row.cells:
            assert mark_for(own, cell.values[at]) == cell.verdicts[at]


def limits_of(table_id):
    """Return each limit in a table's marks, by the words for what is beyond it."""
    whole = printed_table(table_id)
    for i, shown in enumerate(whole.prints):
        if shown.mark:
            limits = {cell.limits[i] for row in whole.rows for cell in row.cells}
            yield shown, {limit for limit in limits if limit is not None}


@pytest.mark.parametrize("table_id", [t for t in TABLES if any(p.mark for p in TABLES[t].prints)])
def test_a_mark_says_the_limit_that_it_stands_for(table_id):
    """Each verdict that a mark can have has its words, and a number in them is the limit."""
    for shown, limits in limits_of(table_id):
        mark = shown.mark
        mild = Verdict.NOT_JUDGED if mark.assumed else Verdict.WITHIN
        assert mark.says.keys() == {Verdict.OVER, mild, *([Verdict.LITTLE] if mark.near else [])}
        if len(limits) == 1:
            (limit,) = limits
            said = {float(n) for n in re.findall(r"\d+(?:\.\d+)?", mark.says[Verdict.OVER])}
            assert limit in said or limit * 100 in said or (limit, said) == (0.9, {3.0, 0.04})


@every
def test_a_table_is_single_questions(table_id):
    """Calculated over arrays, every figure equals that of a single question."""
    table, question = TABLES[table_id], QUESTIONS[TABLES[table_id].question]
    whole = printed_table(table_id)
    axes = {
        axis.field: np.array([[heading.values[i] for heading in whole.columns]])
        for i, axis in enumerate(table.columns_by)
    }
    axes[table.rows_by.field] = np.array(table.rows_by.values)[:, None]
    got = figures_over(question, table.fixed, axes)
    shape = len(whole.rows), len(whole.columns)
    over_arrays = {
        name: np.broadcast_to(getattr(got, name), shape) for name in got.__struct_fields__
    }
    for i, row in enumerate(whole.rows):
        for j, heading in enumerate(whole.columns):
            body = dict(table.fixed) | {table.rows_by.field: row.value}
            body |= dict(
                zip([axis.field for axis in table.columns_by], heading.values, strict=True)
            )
            alone = question.answer(msgspec.convert(body, question.asked))
            for name, values in over_arrays.items():
                own = getattr(alone, name)
                same = own if isinstance(own, str) else pytest.approx(own, rel=1e-14)
                assert values[i, j] == same, name


def test_an_entry_without_an_answer_is_empty():
    """If a single question has no physical answer, a table has NaN, and no error.

    By hand: 5.5 times 40 mΩ and 5 mΩ at 2.8 V give 8.7 W, of which the usual 85 % come out as 7.4 W.
    """
    question = QUESTIONS["converter-load"]
    fixed = {"layout": "1S1P", "cell_rating_a": 20, "cutoff_basis": "at_rest"}
    got = figures_over(question, fixed, {"output_power_w": np.array([7.3, 7.5])})
    assert np.isfinite(got.pack_current_a).tolist() == [True, False]


def test_an_entry_calculated_alone_without_an_answer_is_empty():
    """If physics takes one question at a time, an entry without an answer is NaN too."""
    question = QUESTIONS["weak-cell-drift"]
    fixed = {"series": 2, "cell_capacity_ah": 3, "cycle_count": 1, "chemistry": "lfp"}
    got = figures_over(question, fixed, {"cell_charged_voltage_v": np.array([[3.6], [4.7]])})
    assert np.isfinite(got.lowest_at_cutoff_v).tolist() == [[True], [False]]


@pytest.mark.parametrize(
    "shown", [{"round": "word"}, {"round": "up", "words": {"no": "no"}}], ids=lambda s: s["round"]
)
def test_a_print_is_a_number_or_has_words(shown):
    """A table has its own texts for words, and none for numbers."""
    with pytest.raises(msgspec.ValidationError, match="words"):
        msgspec.convert({"field": "x", "heading": "X"} | shown, TablePrint)


def test_a_figure_in_another_unit_is_named_by_it():
    """The column name of a time in minutes does not end in seconds."""
    shown = TablePrint(
        field="charging_time_s", heading="Time", round=Rounding.UP, unit="min", per=60
    )
    assert shown.column == "charging_time_min"
    share = TablePrint(
        field="worst_cell_share", heading="Share", round=Rounding.UP, unit="%", per=0.01
    )
    assert share.column == "worst_cell_share_percent"


@every
def test_the_example_speaks_of_what_the_table_was_calculated_for(table_id):
    """Each number in the sentence that reads an entry aloud is an assumption or a value of the table."""
    table, whole = TABLES[table_id], printed_table(table_id)
    known = [*table.fixed.values(), *(a.value for a in whole.assumptions)]
    known += [value for axis in table.columns_by for value in axis.values]
    said = re.findall(r"(?<![\w[.])\d+(?:\.\d+)?(?![\w\]])", table.reading)
    assert {float(number) for number in said} <= {n for n in known if isinstance(n, int | float)}


@every
def test_worked_example_is_in_the_table(table_id):
    """The row and column that the page reads aloud are in the table."""
    table = TABLES[table_id]
    assert table.worked.row in table.rows_by.values
    for axis, value in zip(table.columns_by, table.worked.columns, strict=True):
        assert value in axis.values


@every
def test_anchors_are_unique(table_id):
    """Each row has a unique name, which needs no escaping in a link."""
    anchors = [row.anchor for row in printed_table(table_id).rows]
    assert [name for name, count in Counter(anchors).items() if count > 1] == []
    for name in anchors:
        assert name.isascii()
        assert not set(name) & set(" #/?%&")


@every
def test_column_anchors_are_unique(table_id):
    """Each column has a unique name, which can be a folder of the site."""
    anchors = [column.anchor for column in printed_table(table_id).columns]
    assert len(set(anchors)) == len(anchors)
    for name in anchors:
        assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", name)


@every
def test_rows_are_in_order(table_id):
    """Rows of numbers rise, because the link looks up the nearest row among them."""
    values = TABLES[table_id].rows_by.values
    if not isinstance(values[0], str):
        assert values == sorted(set(values))


@every
def test_labels_are_as_many_as_values(table_id):
    """An axis with labels has one for each value."""
    table = TABLES[table_id]
    for axis in [table.rows_by, *table.columns_by]:
        assert len(axis.labels) in (0, len(axis.values))


@every
def test_sources_and_defaults_are_named(table_id):
    """A table names its sources, and each default that its cells rest on with value and origin."""
    whole = printed_table(table_id)
    assert whole.sources
    assert whole.cautions
    question = QUESTIONS[whole.question]
    rested_on: dict[str, set[Any]] = {}
    for row in (whole.rows[0], whole.rows[-1]):
        for column in (whole.columns[0], whole.columns[-1]):
            body = dict(whole.fixed) | {whole.rows_by.field: row.value}
            axes = [axis.field for axis in whole.columns_by]
            body |= dict(zip(axes, column.values, strict=True))
            for found in question.answer(msgspec.convert(body, question.asked)).assumptions:
                if found.name not in body:
                    rested_on.setdefault(found.name, set()).add(found.value)
    named = {assumption.name: assumption.value for assumption in whole.assumptions}
    assert named.keys() == rested_on.keys()
    for name, values in rested_on.items():
        assert values == {named[name]} or named[name] == "varies over the table"
    assert all(assumption.origin for assumption in whole.assumptions)


@pytest.mark.parametrize("table_id", [t for t in TABLES if TABLES[t].rows_by.careful])
def test_voltage_left_to_the_chemistry_is_among_the_columns(table_id):
    """A link may leave a voltage to the chemistry only because the table has a column for it."""
    table = TABLES[table_id]
    for axis in table.columns_by:
        if axis.field.startswith("cell_") and axis.field.endswith("_voltage_v"):
            assert preset(axis.field, table.fixed["chemistry"])[0] in axis.values


@every
def test_table_travels(table_id):
    """A table is JSON without a gap, and comes back as it was."""
    whole = printed_table(table_id)
    sent = msgspec.json.encode(whole)
    assert msgspec.json.decode(sent, type=type(whole)) == whole
    assert all(
        v is not None for row in json.loads(sent)["rows"] for c in row["cells"] for v in c["values"]
    )


def test_a_default_that_varies_over_a_table_is_listed_as_varying():
    """A table by alloy lists the resistivity as varying; a constant default has its value."""
    listed = {a.name: a.value for a in printed_table("ohms-per-metre").assumptions}
    assert listed["alloy.resistivity"] == "varies over the table"
    assert listed["coils"] == 1.0
    listed = {a.name: a for a in printed_table("label-capacity-by-size").assumptions}
    assert listed["cell_nominal_voltage_v"].value == "varies over the table"


def test_a_table_lists_what_stands_in_for_what_was_not_given():
    """The mass by cell size, and the current of a charge, are among the defaults."""
    listed = {a.name: a.value for a in printed_table("temperature-by-draw").assumptions}
    assert {"cell_mass_kg", "specific_heat_j_kgk"} <= listed.keys()
    listed = {a.name: a.value for a in printed_table("charging-time").assumptions}
    assert listed["end_charge_current_a"] == "varies over the table"
    assert listed["state_of_charge"] == 0.0


# questions known to lack an answer somewhere: the check below must find some
SOMETIMES_UNANSWERED = {
    "direct-load",
    "converter-load",
    "needed-rating",
    "cell-sag",
    "coil-from-wire",
}
FIELDS = {
    question_id: question.asked.__struct_fields__ for question_id, question in QUESTIONS.items()
}


SAGGING = {"cutoff_basis": "at_rest", "cell_cutoff_voltage_v": 3.6, "cell_resistance_ohm": 0.005}


def outcome(question, body):
    """Return the answer, None if no physical one exists, or False if the question is refused."""
    try:
        return question.answer(msgspec.convert(body, question.asked))
    except NoSolution:
        return None
    except Refused:
        return False


def numbers(figures):
    """Return the number figures that differ between entries of a table."""
    for field in figures.__struct_fields__:
        value = np.asarray(getattr(figures, field))
        if value.ndim and value.dtype.kind == "f":
            yield field, value


@pytest.mark.parametrize("question_id", [n for n, q in QUESTIONS.items() if q.table])
def test_an_entry_without_an_answer_is_null_and_leaves_the_others(question_id, drawn, cornered):
    """In a table of two entries, one without an answer is null, and the other is right."""
    question = QUESTIONS[question_id]
    usual = {n: v for n, v in question.example.items() if isinstance(v, float | int)}
    seen = []

    def check(bad):
        if len(seen) > 20 or not usual.keys() <= bad.keys() or outcome(question, bad) is not None:
            return
        good = bad | usual
        alone = outcome(question, good)
        axes = {n: np.array([float(v), float(bad[n])]) for n, v in usual.items() if bad[n] != v}
        if not alone or not axes:
            return
        got = figures_over(question, {n: v for n, v in good.items() if n not in axes}, axes)
        for field, value in numbers(got):
            assert value[0] == pytest.approx(getattr(alone, field)), (field, bad)
        assert any(np.isnan(value[1]) for _, value in numbers(got)), bad
        seen.append(bad)

    @settings(max_examples=60, suppress_health_check=list(HealthCheck))
    @given(body=drawn(question_id))
    def anywhere(body):
        check(body)
        # the example with drawn numbers, and with sag where possible
        sagging = SAGGING if "cutoff_basis" in FIELDS[question_id] else {}
        check(question.example | sagging | {n: body[n] for n in usual if n in body})

    anywhere()
    for body in cornered(question_id):
        check(body)
    assert seen or question_id not in SOMETIMES_UNANSWERED
