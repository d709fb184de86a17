"""The page with a form for each question: it has what the document has."""

import html
import re

import pytest

from percell_site.try_page import try_page


@pytest.fixture(scope="module")
def document(api):
    """The API's document."""
    return api.get_json("/openapi.json")


@pytest.fixture(scope="module")
def parts(site):
    """The part of each question on the page, by its id."""
    text = (site / "docs" / "api" / "index.html").read_text("utf-8")
    found = re.split(r'<details class="pc-try" id="([\w-]+)">', text)
    return dict(zip(found[1::2], found[2::2], strict=True))


def parameters(document, operation):
    """The parameters of an operation, each in full."""
    named = document["components"].get("parameters", {})
    for one in operation.get("parameters", ()):
        yield named[one["$ref"].rpartition("/")[2]] if "$ref" in one else one


def test_every_question_has_a_form_in_the_order_of_the_index(api, parts):
    """By subject, as the index has them."""
    index = api.get_json("/v1")
    listed = [q["question"] for group in index["groups"] for q in group["questions"]]
    assert list(parts) == listed
    for question in listed:
        assert f'<form action="/v1/{question}" method="get"' in parts[question] or (
            f'action="/v1/{question}" method="post"' in parts[question]
        )


def test_every_field_of_a_query_is_in_its_form(document, parts):
    """No field is left out, and those that are needed are marked and come before the folded ones."""
    seen = 0
    for question, part in parts.items():
        if 'method="get"' not in part:
            continue
        open_part = part.partition('<details class="pc-further">')[0]
        for one in parameters(document, document["paths"][f"/v1/{question}"]["get"]):
            field = re.search(
                rf'<(?:input|select) [^>]*name="{re.escape(one["name"])}"[^>]*>', part
            )
            if field is None:
                assert one["schema"].get("type") == "array", (question, one["name"])
                continue
            assert field[0].endswith(" required>") is one.get("required", False)
            assert "required" not in one or field[0] in open_part
            seen += 1
    assert seen > 200


def test_bounds_units_and_defaults_are_in_the_form(parts):
    """A number has its unit in the label, its bounds in the field and in words, and its default as a hint."""
    part = html.unescape(parts["direct-load"])
    field = re.search(
        r'<div class="pc-field">\s*<label for="direct-load-cell_temperature_c">.*?</div>',
        part,
        re.DOTALL,
    )[0]
    assert '<span class="pc-unit">[°C]</span>' in field
    assert 'min="-20" max="60"' in field
    assert 'placeholder="default: 25 °C"' in field
    assert "From -20 to 60 °C. Default: 25 °C.</p>" in field
    assert "[°C]</p>" not in field
    choices = re.search(r'<select id="direct-load-chemistry".*?</select>', part, re.DOTALL)[0]
    assert '<option value="lfp">' in choices


def test_fields_of_which_one_is_needed_are_shown_first(parts):
    """A coil is given by what a meter shows or by its true resistance: both are there, with the words for it."""
    shown, _, folded = parts["direct-load"].partition('<details class="pc-further">')
    for name in ("coil_reading_ohm", "coil_resistance_ohm"):
        assert f'name="{name}"' in shown
        assert f'name="{name}"' not in folded
    assert re.search(r'<p class="pc-rules">[^<]*<code>coil_reading_ohm</code>', shown)


def test_text_of_the_document_cannot_break_the_page():
    """What would be markup is printed as it is written."""
    hostile = "<b>&\"' `x`"
    schema = {"type": "string", "description": hostile}
    field = {"name": "a", "required": True, "description": f"{hostile}.", "schema": schema}
    content = {"application/json": {"example": {"a": hostile}}}
    document = {
        "paths": {
            "/v1/q": {
                "get": {"parameters": [field]},
                "post": {"description": hostile, "requestBody": {"content": content}},
            }
        }
    }
    entry = {"question": "q", "path": "/v1/q", "label": hostile}
    index = {"groups": [{"group": "G", "description": "d", "questions": [entry]}]}
    page = try_page(document, index, "https://tables.example")
    assert "<b>" not in page
    assert "&lt;b&gt;&amp;\"' <code>x</code>" in page
