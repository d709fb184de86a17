"""The bench card: one sheet for a cell, of which every figure is the answer to a question."""

import re
from html import unescape
from typing import Any
from urllib.parse import urlencode

import pytest

from percell import VERSION
from percell.questions.vocabulary.cautions import CAUTIONS
from percell.web.ask_pages.bench_card import CARD
from percell.web.ask_pages.fields import form_of

CELLS: dict[str, dict[str, Any]] = {
    "a rating alone": {"cell_rating_a": 10},
    "rating and capacity": {"cell_rating_a": 20, "cell_capacity_ah": 2.6},
    "too hot in its size": {"cell_rating_a": 30, "cell_capacity_ah": 3, "cell_size": "18650"},
    "an old cell": {"cell_rating_a": 25, "cell_capacity_ah": 2, "cell_resistance_ohm": 0.09},
    "another chemistry": {"cell_rating_a": 35, "cell_capacity_ah": 1.5, "chemistry": "lfp"},
    "a known device": {
        "cell_rating_a": 12.5,
        "cell_capacity_ah": 3.5,
        "cell_cutoff_voltage_v": 3.3,
        "cell_charge_limit_a": 0.7,
    },
    "a rating far too high": {"cell_rating_a": 90, "cell_capacity_ah": 3},
}
LIMITS = ("lowest-resistance", "highest-power")
MARKUP = '"><b>x</b><script>alert(1)</script>'


def page(client: Any, **fields: Any) -> Any:
    return client.get(f"/ask/bench-card?{urlencode(fields)}")


def linked(html: str) -> list[tuple[str, str, str]]:
    """Return each figure of a card: its question, its query, and its text with its mark."""
    card = html.partition('<div class="pc-card">')[2].partition("<form")[0]
    found = re.findall(r'<a href="/ask/([\w-]+)\?([^"]+)">(.*?)</a>', card)
    return [
        (name, unescape(query), re.sub("<.*?>", "", unescape(text))) for name, query, text in found
    ]


def rating_verdict(answer: dict[str, Any]) -> str:
    (limit,) = (one for one in answer["limits"] if one["name"] == "continuous_rating")
    return str(limit["verdict"])


@pytest.mark.parametrize("cell", CELLS.values(), ids=list(CELLS))
def test_every_figure_survives_being_asked_again(client: Any, cell: dict[str, Any]) -> None:
    """No figure is bolder than the answer that it links to, and none is over a limit there."""
    html = page(client, **cell).text
    doubtful = "pc-little pc-doubt" in html
    figures = linked(html)
    assert len(figures) >= 16
    for name, query, text in figures:
        answer = client.get(f"/v1/{name}?{query}").json()
        assert (answer["verdict"] == "over_limit") is ("✕" in text) is text.startswith("none")
        doubted = doubtful and name in (*LIMITS, "converter-load") and "✕" not in text
        assert (answer["verdict"] == "little_headroom" or doubted) is ("◐" in text)
        told = re.match(r"[\d.]+", text)
        if told is None:
            assert text.startswith("none") or answer["running_time_s"] < 60
            continue
        value = float(told[0])
        if name == "lowest-resistance":
            assert value >= answer["lowest_reading_ohm"]
            again = client.get(f"/v1/direct-load?{query}&coil_reading_ohm={value}").json()
            assert rating_verdict(again) != "over_limit"
        elif name == "highest-power":
            assert value <= answer["highest_power_w"]
            again = client.get(f"/v1/converter-load?{query}&output_power_w={value}").json()
            assert rating_verdict(again) != "over_limit"
        elif name == "converter-load":
            assert f"output_power_w={told[0]}" in query
            assert answer["worst_cell_current_a"] <= cell["cell_rating_a"]
        elif " A" in text:
            assert answer["worst_cell_current_a"] <= value <= cell["cell_rating_a"]
        else:
            assert name == "running-time"
            assert value * 60 <= answer["running_time_s"]


def test_the_card_asks_for_what_the_cell_is_known_by(client: Any) -> None:
    """What was typed goes into each question that has a place for it, and first of all onto the card."""
    cell = CELLS["a known device"]
    html = page(client, **cell).text
    entered = (
        "For cells of 3.5 Ah rated 12.5 A, a cut-off at 3.3 V per cell and a charge limit of 0.7 A per cell, "
        "as entered"
    )
    assert f"<title>{entered}: bench card" in html
    assert html.index(f"{entered}.</p>") < html.index("<table")
    for name, query, _ in linked(html):
        assert "cell_rating_a=12.5&cell_capacity_ah=3.5" in query
        assert ("cell_cutoff_voltage_v=3.3" in query) is (name != "lowest-resistance")
    assert "0.7 A at most, and never more than the manufacturer states" in html
    assert "The charge limit, as entered" in html


def test_a_card_says_what_it_holds_for_and_who_made_it(client: Any, monkeypatch: Any) -> None:
    """Conditions, cautions, version and address are on the card, and no search engine keeps it."""
    monkeypatch.setenv("PERCELL_SITE_URL", "https://cells.example")
    response = page(client, cell_rating_a=20)
    assert response.headers["x-robots-tag"] == "noindex"
    assert response.headers["cache-control"] == "no-store"
    foot = response.text.partition('<div class="pc-colophon">')[2]
    for told in (
        "For cells rated 20 A, as entered",
        "These figures hold for: an uneven share between cells in parallel",
        "cells charged to 4.2 V",
        "https://cells.example/ask/bench-card?cell_rating_a=20",
        f"percell {VERSION}",
        "Never exceed the manufacturer's continuous discharge rating",
    ):
        assert told in unescape(foot)
    for caution in CAUTIONS:
        assert caution.sentence in unescape(response.text)


@pytest.mark.parametrize(
    ("fields", "word", "look"),
    [
        (
            {"cell_rating_a": 60, "cell_capacity_ah": 3, "cell_size": "18650"},
            "not believable",
            "pc-over",
        ),
        ({"cell_rating_a": 30, "cell_capacity_ah": 3}, "doubtful", "pc-little"),
    ],
)
def test_a_rating_that_is_not_believable_says_so_first(
    client: Any, fields: dict[str, Any], word: str, look: str
) -> None:
    """The title has the doubt, and the sentence about it comes before the cell and any figure."""
    html = page(client, **fields).text
    assert re.search(
        rf"<title>For [^<]*cells of 3 Ah rated [^<]*as entered \(the rating is {word}\)", html
    )
    doubt = html.index(f'class="pc-answer {look} pc-doubt"')
    assert doubt < html.index("as entered", html.index("<h1"))
    limits = [text for name, _, text in linked(html) if name in LIMITS]
    assert all(text == "none ✕" for text in limits) is (word == "not believable")
    assert ("✕: over a limit at the rating: believable rating." in html) is (look == "pc-over")


def powers(html: str) -> list[list[float]]:
    """Return the powers of each wiring, from the lowest cut-off to the highest."""
    found = [
        float(re.match(r"[\d.]+", text)[0])  # type: ignore[index]
        for name, _, text in linked(html)
        if name in ("highest-power", "converter-load")
    ]
    return [found[i : i + 4] for i in range(0, len(found), 4)]


@pytest.mark.parametrize("rating", [20, 40, 100])
def test_a_higher_cutoff_allows_no_less_power(client: Any, rating: int) -> None:
    """Where the cells supply less than their rating allows, the card has what they supply."""
    rows = powers(page(client, cell_rating_a=rating, cell_capacity_ah=3).text)
    assert len(rows) == 8
    for row in rows:
        assert row == sorted(row)


def test_each_figure_of_a_doubtful_rating_is_marked(client: Any) -> None:
    """Who looks at one coil of the card sees that its rating must be checked first."""
    html = page(client, cell_rating_a=100, cell_capacity_ah=3).text
    told = [text for name, _, text in linked(html) if name == "lowest-resistance"]
    assert len(told) == 8
    assert all(text.endswith("◐") for text in told)
    assert "◐: the rating is doubtful." in html


@pytest.mark.parametrize(
    ("limit_a", "said"), [(50, "Half the capacity per hour"), (1, "The charge limit, as entered")]
)
def test_a_charge_current_names_what_bounds_it(client: Any, limit_a: int, said: str) -> None:
    """A charge limit that was entered is named only where it is the charge current."""
    html = page(client, cell_rating_a=20, cell_capacity_ah=3, cell_charge_limit_a=limit_a).text
    (told,) = re.findall(r"Charge current</th><td>.*?<span[^>]*>([^<]*)", html)
    assert told.startswith(said)


def test_what_percell_does_not_know_is_left_open(client: Any) -> None:
    """Without a capacity, or without a curve, there is no running time and no charge current, and why is said."""
    bare = page(client, cell_rating_a=20).text
    assert "Type the capacity to get running times." in bare
    assert "as the manufacturer states it. " in bare
    no_curve = page(client, cell_rating_a=10, cell_capacity_ah=2, chemistry="lmo").text
    assert "No running times." in no_curve
    assert "running-time?" not in no_curve
    limited = page(client, cell_rating_a=20, cell_charge_limit_a=1.25).text
    assert "1.25 A at most" in limited


def test_nothing_that_is_typed_becomes_markup(client: Any) -> None:
    """Markup in any field comes back as text, at its fault and in its field."""
    for name in form_of(CARD).fields:
        response = page(client, **{"cell_rating_a": 20, name: MARKUP})
        assert response.status_code in (400, 422)
        assert "<b>" not in response.text
        assert "<script" not in response.text
        assert f'href="#f-{name}"' in response.text


def test_a_contradiction_stands_at_its_field(client: Any) -> None:
    """A cut-off above the charged voltage makes no card, and nothing that was typed is lost."""
    response = page(client, cell_rating_a=20, cell_cutoff_voltage_v=4.5)
    assert response.status_code == 422
    assert 'href="#f-cell_cutoff_voltage_v"' in response.text
    assert 'value="4.5"' in response.text
    assert "must not be above the charged voltage of 4.2 V" in response.text


def test_the_list_of_questions_leads_to_the_card(client: Any) -> None:
    """The card has a form of its own, which the list of questions names."""
    assert 'href="/ask/bench-card"' in client.get("/ask/").text
    form = client.get("/ask/bench-card").text
    assert 'action="/ask/bench-card"' in form
    for name in form_of(CARD).fields:
        assert f'name="{name}"' in form
