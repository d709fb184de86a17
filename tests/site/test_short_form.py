"""Short forms on tables and on the front page: plain HTML that asks the page of the question."""

import html
import re
from urllib.parse import urlencode

import pytest
from litestar.testing import TestClient

from percell.web.app import create_app
from percell_site.short_form import Forms, sent_to

# what a reader of any table could type
TYPED = {
    "layout": "1S2P",
    "cell_rating_a": 20,
    "cell_capacity_ah": 3,
    "coil_reading_ohm": 0.5,
    "output_power_w": 30,
    "lowest_resistance_ohm": 0.2,
    "parallel": 2,
    "group_current_a": 20,
    "mismatch": 0.2,
    "voltage_difference_v": 0.1,
    "cell_current_a": 10,
    "open_circuit_voltage_v": 3.7,
    "cycle_count": 20,
    "series": 2,
    "former_diameter_mm": 3,
    "wanted_resistance_ohm": 0.5,
    "measured_capacity_ah": 2.5,
    "reference_capacity_ah": 3,
    "cell_size": "18650",
    "alloy": "nicr_80_20",
    "gauge": 26,
    "turns": 5,
}


@pytest.fixture(scope="module")
def client():
    """The service that answers the forms."""
    with TestClient(create_app()) as caller:
        yield caller


def forms_of(page):
    """The short forms of a page: where each goes, and the names and choices of its fields."""
    for action, inside in re.findall(
        r'<form class="pc-short" method="get" action="(.*?)">(.*?)</form>', page
    ):
        names = re.findall(r'<(?:input|select) id="(.*?)" name="(.*?)"', inside)
        labels = re.findall(r'<label for="(.*?)">', inside)
        assert [name for name, _ in names] == labels
        yield action, [name for _, name in names], inside


def test_every_table_has_a_form_that_is_answered(api, site, client):
    """What a form asks is enough for an answer, and is two to four fields."""
    for entry in api.get_json("/v1/tables")["tables"]:
        page = (site / entry["page"].strip("/") / "index.html").read_text("utf-8")
        ((action, names, inside),) = forms_of(page)
        assert 1 <= len(names) <= 4, entry["id"]
        typed = {name: TYPED[name] for name in names if name in TYPED}
        answer = client.get(f"{action}?{urlencode(typed)}")
        assert answer.status_code == 200, (entry["id"], typed)
        assert 'id="answer"' in answer.text
        assert "This form needs the server that runs percell." in inside


def test_the_front_page_has_a_form_for_each_door(site, client):
    """A reader types numbers on the first page, and the page of the question answers."""
    found = list(forms_of((site / "index.html").read_text("utf-8")))
    assert len(found) == 3
    for action, names, _ in found:
        typed = {name: TYPED[name] for name in names if name in TYPED}
        assert client.get(f"{action}?{urlencode(typed)}").status_code == 200


def test_a_form_has_the_words_of_the_api(api, site):
    """Labels are those of the document; layouts and the table's own words stand in for codes."""
    page = (site / "tables/charging-by-layout/index.html").read_text("utf-8")
    ((_, _, inside),) = forms_of(page)
    for layout in api.get_json("/v1/reference")["layouts"]:
        assert f"{layout['label']} ({layout['layout']})" in inside
    assert '<option value="individually">cells removed, charged individually</option>' in inside
    assert "Capacity per cell" in html.unescape(inside)


def test_a_copy_elsewhere_sends_its_readers_to_the_service(api):
    """With the address of the service each form and link goes there, and says so."""
    forms = Forms(
        api.get_json("/openapi.json"),
        api.get_json("/v1"),
        api.get_json("/v1/reference")["layouts"],
        "https://percell.example",
    )
    page = sent_to(
        forms.api_url, '<a href="/ask/">Ask</a><a href="/asked">x</a>' + forms.form("pack")
    )
    assert '<a href="https://percell.example/ask/">' in page
    assert '<a href="/asked">' in page
    assert 'action="https://percell.example/ask/pack"' in page
    assert "The answer opens at https://percell.example." in page
