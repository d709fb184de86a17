"""The pages on which people type their numbers, in a browser: by keyboard and on a phone."""

import re
from urllib.parse import urlencode

import pytest

from percell.questions.registry import QUESTIONS
from percell.web.ask_pages.words import ASKING

OVER = "/ask/converter-load?layout=2S1P&cell_rating_a=20&output_power_w=120"
DOUBTED = "/ask/direct-load?layout=1S2P&cell_rating_a=150&coil_reading_ohm=0.25"
FAULTY = "/ask/converter-load?layout=2S1P&cell_rating_a=20x&efficiency=9"
LOOKED_AT = [
    "/ask/",
    "/ask/direct-load",
    OVER,
    DOUBTED,
    FAULTY,
    "/ask/joining",
    "/ask/discharge-test",
]
# what WCAG 2.2 AA asks, and what axe holds for good practice
RULES = "{runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']}"


@pytest.mark.parametrize(("scheme", "width"), [("light", 1280), ("dark", 320)])
def test_forms_and_answers_can_be_used_by_everyone(open_page, npm_file, scheme, width):
    """With everything unfolded, axe finds nothing in a form, an answer or a fault."""
    page = open_page("/ask/", color_scheme=scheme, viewport={"width": width, "height": 800})
    base = page.url.removesuffix("/ask/")
    for path in LOOKED_AT:
        page.goto(base + path)
        page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
        page.evaluate(npm_file("axe-core", "axe.min.js").read_text("utf-8"))
        found = page.evaluate(f"async () => (await axe.run({RULES})).violations")
        said = [(one["id"], [node["html"] for node in one["nodes"]][:3]) for one in found]
        assert said == [], path


def test_no_form_and_no_answer_is_wider_than_a_phone(open_page):
    """At 320 pixels, only lists scroll sideways, inside their own region."""
    page = open_page("/ask/", viewport={"width": 320, "height": 800})
    base = page.url.removesuffix("/ask/")
    flat = [
        name
        for name in ASKING
        if all(not isinstance(value, list | dict) for value in QUESTIONS[name].example.values())
    ]
    answers = [f"/ask/{name}?{urlencode(QUESTIONS[name].example)}" for name in flat]
    wider = []
    for path in [*(f"/ask/{name}" for name in ASKING), *answers, FAULTY]:
        page.goto(base + path)
        page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
        if page.evaluate("document.documentElement.scrollWidth") > 320:
            wider.append(path)
    assert wider == []


def test_numbers_are_typed_and_answered_by_keyboard_without_script(open_page):
    """Tab, arrows and Enter fill in a form, open its answer, and change a number."""
    page = open_page("/ask/highest-power", java_script_enabled=False)
    page.locator("input[type=radio]").first.focus()
    page.keyboard.press("Space")
    page.keyboard.press("ArrowDown")
    page.locator("#f-cell_rating_a").focus()
    page.keyboard.type("20")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile("layout=2S1P&cell_rating_a=20$"))
    assert "2S1P with cells rated 20 A, as entered" in page.locator("#answer").inner_text()
    page.locator("#f-cell_rating_a").focus()
    page.keyboard.press("ControlOrMeta+a")
    page.keyboard.type("many")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile("cell_rating_a=many$"))
    assert page.locator("#f-cell_rating_a").input_value() == "many"
    assert page.locator("#f-cell_rating_a-fault").is_visible()
