"""The pages on which people type their numbers: a form and its answer for each question, without script."""

import re
from html import unescape
from html.parser import HTMLParser
from typing import Any
from urllib.parse import urlencode

import pytest
from litestar.testing import TestClient

from percell import VERSION
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.cautions import CAUTIONS
from percell.web.app import create_app
from percell.web.ask_csv import EXAMPLE
from percell.web.ask_pages.fields import form_of
from percell.web.ask_pages.words import ASKING
from percell.web.call import TARGET_LIMIT

VOID = {"meta", "link", "input", "br", "hr", "img", "path"}
# a log is a file, which no address holds
LINKED = [name for name in ASKING if QUESTIONS[name].has_query]
MARKUP = '"><b>x</b><script>alert(1)</script>'


class Page(HTMLParser):
    """A page that is read as strictly as it was written: each element ends where it must."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.elements: list[tuple[str, dict[str, Any]]] = []
        self.text = ""
        self.feed(html)
        assert self.open == []
        ids = [element["id"] for _, element in self.elements if "id" in element]
        assert len(ids) == len(set(ids))

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: Any) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data

    def all(self, tag: str, **wanted: Any) -> list[dict[str, Any]]:
        """Return the attributes of each element of a tag that has these."""
        return [
            attributes
            for name, attributes in self.elements
            if name == tag and wanted.items() <= attributes.items()
        ]


def ask(client: Any, question: str, **fields: Any) -> Any:
    return client.get(f"/ask/{question}?{urlencode(fields)}")


def controls(page: Page) -> list[dict[str, Any]]:
    return [e for tag, e in page.elements if tag in ("input", "select", "textarea")]


@pytest.mark.parametrize("name", LINKED)
def test_a_form_has_the_fields_of_the_api_and_no_other(
    client: Any, document: Any, whole: Any, name: str
) -> None:
    """What a form sends is a query of the API, field for field, with its labels."""
    page = Page(client.get(f"/ask/{name}").text)
    parameters = map(whole, document["paths"][f"/v1/{name}"]["get"]["parameters"])
    wanted = {parameter["name"] for parameter in parameters}
    # the rest of it is a list inside an entry of a list, which no query can give
    wanted -= {"setups.measured_discharge.current_a"}
    # beside its places a list has one field for all, which becomes theirs
    wanted |= {rows.pasted for rows in form_of(QUESTIONS[name]).lists.values()}
    assert {control["name"] for control in controls(page)} == wanted
    labelled = {label.get("for") for label in page.all("label")}
    assert all(
        control.get("type") == "radio" or control["id"] in labelled for control in controls(page)
    )


@pytest.mark.parametrize("name", LINKED)
def test_an_answer_has_its_verdict_version_findings_and_cautions(
    client: Any, flat: Any, name: str
) -> None:
    """The page of an answer says all that the API's answer says, and for what it holds before the figure."""
    fields = flat(QUESTIONS[name].example)
    query = urlencode(fields)
    if name == "running-time-comparison":
        # a page numbers the setups
        fields = [(one, value) for one, value in fields if one != "setups.label"]
        fields += [("setups.label", f"Setup {number}") for number in (1, 2)]
    answer = client.get(f"/v1/{name}?{urlencode(fields)}").json()
    response = client.get(f"/ask/{name}?{query}")
    assert response.status_code == 200
    page = Page(response.text)
    for sentence in (
        *(caution.sentence for caution in CAUTIONS),
        *(finding["sentence"] for finding in answer["findings"]),
        *(assumption["origin"] for assumption in answer["assumptions"]),
        *(step["with_numbers"] for step in answer["working"]),
        f"percell {VERSION}",
    ):
        assert sentence in page.text
    title = unescape(re.search("<title>(.*?)</title>", response.text)[1])  # type: ignore[index]
    (headline,) = re.findall(r'<h2 id="answer">(.*?)</h2>', response.text)
    assert title.startswith("For ")
    assert ", as entered" in title
    # what nobody judged is in the first line that others see of a link
    for limit in answer.get("limits", []):
        if limit["verdict"] == "not_judged":
            said = title.rpartition("; not judged: ")[2]
            assert limit["name"].replace("_", " ") in said
    assert unescape(headline).startswith(title.partition(" (")[0].partition(", as entered")[0])
    (preview,) = re.findall(r'property="og:description" content="(.*?)"', response.text)
    worst = re.search("(Warning|Caution): .*", answer["headline"])
    if worst:
        # who reads only the preview of a link must meet what the headline of the API ends with
        assert worst[0] in unescape(preview)
    if "verdict" in answer:
        said = {"over_limit": "Over the limit", "little_headroom": "little headroom"}
        assert said.get(answer["verdict"], "limit") in page.text
        assert len(re.findall("✕|◐", response.text)) >= (answer["verdict"] in said)


@pytest.mark.parametrize("name", LINKED)
def test_nothing_that_is_typed_becomes_markup(client: Any, flat: Any, name: str) -> None:
    """Markup in any field comes back as text, at its fault and in its field."""
    example = flat(QUESTIONS[name].example)
    for field in form_of(QUESTIONS[name]).fields.values():
        others = [pair for pair in example if pair[0] != field.name]
        response = client.get(f"/ask/{name}?{urlencode([*others, (field.name, MARKUP)])}")
        # a name may be any text
        assert response.status_code in ((200, 400, 422) if "label" in field.name else (400, 422))
        assert "<b>" not in response.text
        assert "<script" not in response.text
        Page(response.text)


def test_what_was_typed_into_folded_fields_stays_in_sight(client: Any) -> None:
    """Below an answer the optional fields that were given stand before the fold, and the others in it."""
    page = ask(
        client, "direct-load", layout="1S1P", cell_rating_a=20, coil_reading_ohm=1, meter_counts=2
    ).text
    form = page[page.index('id="form"') :]
    before, _, folded = form.partition("<details")
    assert 'id="f-meter_counts"' in before
    assert 'id="f-meter_accuracy"' in folded
    assert "<details" in form
    assert "open>" not in form


def test_the_cells_of_an_answer_are_folded_away(client: Any) -> None:
    """A long list does not stand between an answer and its cautions; with a fault it is in sight."""
    page = listed(client, "joining", *TWO_CELLS).text
    fold = page.index("Change the 2 cells</summary>")
    assert fold < page.index('id="f-cells.cell_capacity_ah-0"')
    wrong = listed(client, "joining", *TWO_CELLS[:-1], ("cells.cell_capacity_ah", "x")).text
    assert "Change the 2 cells</summary>" not in wrong


def test_the_cells_stand_on_the_page_of_their_answer(client: Any) -> None:
    """A sheet of paper has no form, so each cell is printed as it was entered, in the units of the fields."""
    page = listed(client, "joining", *TWO_CELLS).text
    table = page.partition("<caption>Cells, as entered</caption>")[2].partition("</table>")[0]
    assert re.findall("<th [^>]*>(.*?)</th>", table) == [
        "Cell", "Open-circuit voltage [V]", "Internal resistance per cell [Ω]", "Capacity per cell [Ah]",
    ]  # fmt: skip
    assert re.findall("<td>(.*?)</td>", table)[4:] == ["2", "3.9", "0.02", "3"]
    assert page.index("Cells, as entered") < page.index('id="form"')


def test_a_rule_of_several_fields_is_told_once_at_the_top(client: Any) -> None:
    """Two loads where one is asked for are one fault, with a link to each field, and stand at both."""
    asked = {"layout": "2S1P", "cell_rating_a": 20, "output_power_w": 40, "coil_reading_ohm": 1}
    response = ask(client, "assessment", **asked)
    assert response.status_code == 422
    top = response.text.partition('id="faults"')[2].partition("</ul>")[0]
    assert "Check this, then ask again" in top
    assert top.count("<li>") == top.count("Give exactly one load") == 1
    assert re.findall('href="#(.*?)"', top) == ["f-coil_reading_ohm", "f-output_power_w"]
    assert response.text.count('class="pc-fault"') == 2


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("cell_capacity_ah", "3500", "If you mean 3500 mAh, write the unit too."),
        ("efficiency", "90", "If you mean 90 %, write the unit too."),
        ("cell_resistance_ohm", "20", "If you mean 20 mΩ, write the unit too."),
        ("cell_rating_a", "1e9", ""),
    ],
)
def test_a_number_that_is_too_high_may_lack_its_unit(
    client: Any, field: str, typed: str, says: str
) -> None:
    """Who typed the number of a smaller unit reads how to say so; what fits no unit has no such hint."""
    asked = {"layout": "2S1P", "cell_rating_a": 20, "output_power_w": 40, "cell_capacity_ah": 3}
    page = ask(client, "running-time", **asked | {field: typed})
    assert page.status_code == 422
    assert ("If you mean" in page.text) == bool(says)
    assert says in page.text


def test_an_unknown_field_is_named_as_text(client: Any) -> None:
    """A field that the question does not have is told, escaped, and breaks nothing."""
    response = ask(client, "meter-reading", lowest_resistance_ohm=0.2, **{MARKUP: "1"})
    assert response.status_code == 422
    assert "<b>" not in response.text
    assert "There is no such field." in response.text


def test_faults_stand_at_their_fields_and_nothing_typed_is_lost(client: Any) -> None:
    """Each fault is told at the top, with a link, and at its field, which still holds what was typed."""
    response = ask(client, "converter-load", layout="2S1P", cell_rating_a="20x", efficiency="7")
    assert response.status_code == 400
    page = Page(response.text)
    fields = {control.get("id"): control for control in controls(page)}
    for name, typed in (("cell_rating_a", "20x"), ("efficiency", "7"), ("output_power_w", "")):
        field = fields[f"f-{name}"]
        assert field["value"] == typed
        assert field["aria-invalid"] == "true"
        assert page.all("p", id=f"f-{name}-fault")
        assert f"f-{name}-fault" in field["aria-describedby"].split()
        assert page.all("a", href=f"#f-{name}")
    assert [radio["value"] for radio in page.all("input", type="radio") if "checked" in radio] == [
        "2S1P"
    ]
    # what is wrong is not folded away
    assert response.text.index('id="f-efficiency"') < response.text.index("<details")
    assert "Continuous rating per cell" in page.text
    assert "cell_rating_a:" not in page.text


@pytest.mark.parametrize(
    ("query", "status"), [("%zz", 400), ("layout=%ff", 400), ("&&", 422), ("layout=", 422)]
)
def test_a_query_that_says_nothing_still_has_its_form(client: Any, query: str, status: int) -> None:
    """An address that nobody can read, or that asks nothing, shows the form and what is needed."""
    response = client.get(f"/ask/direct-load?{query}")
    assert response.status_code == status
    assert controls(Page(response.text))
    assert 'id="faults"' in response.text


def test_a_question_without_a_solution_is_told(client: Any) -> None:
    """What has no physical answer is a sentence on the page, with all that was typed."""
    response = ask(client, "direct-load", layout="1S1P", cell_rating_a=20, coil_reading_ohm=0.01)
    assert response.status_code == 422
    assert 'value="0.01"' in response.text
    assert 'id="faults"' in response.text


def test_the_address_has_nothing_that_says_nothing(client: Any) -> None:
    """Empty fields, spaces and decimal commas are tidied away by a redirect, so that the address can be copied."""
    query = "layout=1S2P&layout=&cell_rating_a=+20&coil_reading_ohm=0,25&chemistry=&efficiency_x="
    response = client.get(
        f"/ask/direct-load?{query.removesuffix('&efficiency_x=')}", follow_redirects=False
    )
    assert response.status_code == 303
    there = response.headers["location"]
    assert there == "/ask/direct-load?layout=1S2P&cell_rating_a=20&coil_reading_ohm=0.25"
    assert client.get(there, follow_redirects=False).status_code == 200
    assert client.get(there.replace("/ask/", "/v1/")).status_code == 200


def test_an_unknown_field_of_a_list_leads_nowhere_else(client: Any) -> None:
    """A name that no cell has is told once, at an address that stays as it is."""
    response = listed(client, "joining", *TWO_CELLS, ("cells.weight_kg", " 1"))
    assert response.status_code == 422
    assert str(response.url).count("weight_kg") == 1
    assert "cells.weight_kg" in Page(response.text).text


@pytest.mark.parametrize("typed", [".25", ",25"])
def test_a_number_may_begin_with_its_point(client: Any, typed: str) -> None:
    """Many people write a resistance without its zero."""
    response = ask(client, "direct-load", layout="1S1P", cell_rating_a=20, coil_reading_ohm=typed)
    assert str(response.url).endswith("coil_reading_ohm=0.25")
    assert response.status_code == 200


def test_a_comma_that_could_separate_thousands_is_not_guessed_at(client: Any) -> None:
    """“3,000” is three or three thousand: the reader must say which."""
    response = ask(
        client, "converter-load", layout="1S1P", cell_rating_a=20, output_power_w="1,000"
    )
    assert response.status_code == 400
    assert 'value="1,000"' in response.text


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"cell_rating_a": 150}, "not believable"),
        ({"cell_rating_a": 100}, "not believable for the size 18650"),
        ({"cell_rating_a": 50}, "doubtful"),
        ({"cell_rating_a": 30, "cell_capacity_ah": 3.5}, "doubtful"),
        ({"cell_rating_a": 20}, ""),
    ],
)
def test_a_rating_that_is_not_believable_says_so_first(client: Any, fields: Any, said: str) -> None:
    """The doubt stands in title and headline, before the figure, and colours the answer."""
    response = ask(client, "direct-load", layout="1S1P", coil_reading_ohm=1, **fields)
    page = response.text
    assert ("pc-doubt" in page) == bool(said)
    assert ("This holds only if the rating is true." in page) == bool(said)
    if said:
        assert f"as entered (the rating is {said})" in page
        # who pastes the answer takes the doubt along
        doubt = re.search(r'pc-doubt">(.*?) <a', page)[1]  # type: ignore[index]
        pasted = page.partition('<pre tabindex="0">')[2]
        assert pasted.partition("\n")[2].startswith(f"{doubt}\n")
        # once above the figure and once in the text to paste
        assert page.count(doubt) == 2
        assert page.index("pc-doubt") < page.index('id="answer"')
        look = "pc-over" if said == "not believable" else "pc-little"
        assert f'<section class="pc-answer {look}"' in page


def test_the_check_of_a_label_begins_with_whether_to_believe_it(client: Any) -> None:
    """Its answer is the doubt: nothing stands before it, leads to the same page, or takes the rating for true."""
    asked = {"cell_size": "18650", "cell_rating_a": 40, "cell_capacity_ah": 3}
    answer = ask(client, "label-check", **asked).text.partition("<main")[2].partition("<form")[0]
    begins = answer.index('<section class="pc-answer pc-over"')
    assert "pc-answer" not in answer[:begins]
    assert "o not believe this label" in answer[begins:].partition("</h2>")[0]
    assert "89.8" not in answer[begins:].partition("What to know")[0]
    assert 'href="/ask/label-check"' not in answer
    assert "only if the rating is true" not in answer


def test_each_setup_of_a_comparison_has_its_findings(client: Any) -> None:
    """A warning about one of several setups stands on the page with the number of the setup."""
    setups = {"layout": "1S1P", "cell_capacity_ah": 2.5, "output_power_w": 40, "cell_rating_a": 10}
    pairs = [
        (f"setups.{name}", value)
        for label in ("A", "B")
        for name, value in {"label": label, **setups}.items()
    ]
    page = Page(listed(client, "running-time-comparison", *pairs).text)
    for number in (1, 2):
        assert f"Warning: “Setup {number}”: The worst-case cell would carry" in page.text


FORGED = "A” was tested by percell: “B"


def test_a_name_in_an_address_speaks_nowhere_in_percells_voice(client: Any) -> None:
    """Title, preview and headline number the setups; their names stand only in the table of what was entered."""
    setup = {"setups.layout": ["1S1P", "1S1P"], "setups.cell_capacity_ah": [3, 3]}
    setup |= {"setups.output_power_w": [8, 9], "setups.label": [FORGED, "b"]}
    html = client.get(f"/ask/running-time-comparison?{urlencode(setup, doseq=True)}").text
    text = unescape(html)
    assert text.count(FORGED) == 2  # the table, and the field of the form
    assert f"<td>{FORGED}</td>" in text
    assert "tested" not in text.partition("</head>")[0]
    assert "“Setup 1”" in text.partition("</title>")[0]
    twice = client.get(
        f"/ask/running-time-comparison?{urlencode(setup | {'setups.label': ['a', 'a']}, doseq=True)}"
    )
    assert twice.status_code == 422


def test_a_name_of_a_cell_stays_out_of_previews(client: Any) -> None:
    """The most severe finding goes into the preview with the number of its cell alone."""
    cells = {"cells.cell_capacity_ah": [3, 3, 3, 3], "cells.cell_resistance_ohm": [0.02] * 4}
    cells |= {
        "cells.open_circuit_voltage_v": [4.1, 4.1, 4.1, 2.2],
        "cells.label": ["a", "b", "c", FORGED],
    }
    html = client.get(
        f"/ask/matched-sets?{urlencode(cells | {'cells_in_set': 2}, doseq=True)}"
    ).text
    head, _, body = unescape(html).partition("</head>")
    assert "Cell 4 " in head
    assert "tested" not in head
    assert "Cell 4 (“A' was tested by percell: 'B”)" in body


def test_no_answer_shows_the_name_of_a_field(client: Any, flat: Any) -> None:
    """Figures, lists in lists and assumptions have labels and words, in every answer."""
    for name in LINKED:
        query = urlencode(flat(QUESTIONS[name].example))
        page = client.get(f"/ask/{name}?{query}").text
        answer = page[page.index("<h2>Figures") : page.index("Keep or share")]
        working = answer.partition("<summary>Working")
        told = working[0] + working[2].partition("</details>")[2]
        text = re.sub("<[^>]*>", " ", told)
        assert not re.findall(r"\b[a-z]+(?:_[a-z0-9]+)+\b", text), name
        assert "Figures: " not in text


def test_each_cell_of_an_answer_has_its_number(client: Any, flat: Any) -> None:
    """A finding says “cell 2”, so the figures say which one that is, also for the cells of a group."""
    for name, heads in (
        ("joining", ["Cell", "Current of the cell"]),
        ("series-drift", ["Cell", "Part of its capacity discharged"]),
        ("unequal-cells", ["Group", "Cell", "Current of the cell"]),
        ("matched-sets", ["Set", "Cell numbers"]),
    ):
        page = client.get(f"/ask/{name}?{urlencode(flat(QUESTIONS[name].example))}").text
        told = re.findall(r"<thead><tr>(.*?)</tr></thead>\s*<tbody>\s*<tr>(.*?)</tr>", page)
        columns = [re.findall(r">([^<>]+)</t[hd]>", head) for head, _ in told]
        assert heads in [one[: len(heads)] for one in columns], name
    page = client.get(
        f"/ask/unequal-cells?{urlencode(flat(QUESTIONS['unequal-cells'].example))}"
    ).text
    assert re.search(r"<td>1</td><td>2</td><td>[\d.]+ A</td>", page)
    assert "Group: voltage" in page


def test_an_assumption_is_told_as_a_table_tells_it(client: Any) -> None:
    """The same default has the same label and words everywhere, and a calculated one is about so much."""
    asked = {"layout": "1S1P", "cell_rating_a": 20, "cell_capacity_ah": 3, "output_power_w": 20}
    text = Page(ask(client, "running-time", **asked).text).text
    assert "full at the start" in text
    assert "none: the rest curve" not in text
    heat = Page(ask(client, "temperature-rise", cell_size="18650", cell_current_a=10).text).text
    assert "about 0.003676 m²" in heat


def test_another_wiring_is_typed(client: Any) -> None:
    """A layout that has no picture goes into the field beside them and comes back in it."""
    page = Page(ask(client, "pack", layout="3s2p", cell_rating_a=20, cell_capacity_ah=3).text)
    (other,) = page.all("input", id="f-layout-other")
    assert other["value"] == "3S2P"
    (chosen,) = [radio for radio in page.all("input", type="radio") if "checked" in radio]
    assert chosen["value"] == ""


@pytest.mark.parametrize("other", ["3S2P", "2s2p"])
def test_a_picture_and_a_text_are_two_wirings(client: Any, other: str) -> None:
    """It is said that two were given; the picture stays chosen, and the text stays in its field."""
    response = client.get(
        f"/ask/pack?layout=1S1P&layout={other}&cell_rating_a=20&cell_capacity_ah=3"
    )
    assert response.status_code == 422
    page = Page(response.text)
    assert "Two wirings were given, a picture and a text." in page.text
    (chosen,) = [radio for radio in page.all("input", type="radio") if "checked" in radio]
    assert chosen["value"] == "1S1P"
    assert page.all("input", id="f-layout-other")[0]["value"] == other.upper()


@pytest.mark.parametrize("path", ["/ask/", "/ask/pack", "/ask/pack?layout=1S1P", "/ask/nothing"])
def test_no_page_may_run_a_script_be_kept_or_be_indexed(client: Any, path: str) -> None:
    """Neither a browser nor a search engine keeps a page, and no script can run in it."""
    response = client.get(path)
    headers = response.headers
    assert headers["cache-control"] == "no-store"
    assert headers["x-robots-tag"] == "noindex"
    assert '<meta name="robots" content="noindex">' in response.text
    policy = headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "script" not in policy
    assert "unsafe" not in policy
    assert not re.search("<script|<style| style=| on[a-z]+=", response.text)
    assert headers["x-request-id"]


def test_the_list_has_every_question_with_a_form(client: Any) -> None:
    """Each page is found from the list, by its subject, and each leads back."""
    page = Page(client.get("/ask/").text)
    linked = {link["href"] for link in page.all("a")}
    assert {f"/ask/{name}" for name in ASKING} <= linked
    assert ASKING.keys() == QUESTIONS.keys()


@pytest.mark.parametrize(
    ("path", "there"), [("/ask", "/ask/"), ("/ask/pack/", "/ask/pack"), ("/ask?a=b", "/ask/?a=b")]
)
def test_each_page_has_one_address(client: Any, path: str, there: str) -> None:
    """An address with a slash too many or too few leads to the page."""
    response = client.get(path, follow_redirects=False)
    assert (response.status_code, response.headers["location"]) == (308, there)


@pytest.mark.parametrize(
    ("path", "meant"),
    [
        ("/ask/<b>", ""),
        ("/ask/pack/more", "pack"),
        ("/ask/matched-set", "matched-sets"),
        ("/ask/mached-sets/a/b", "matched-sets"),
    ],
)
@pytest.mark.parametrize("accept", ["*/*", "text/html,application/xhtml+xml,*/*;q=0.8", ""])
def test_an_unknown_question_is_told_beside_those_that_there_are(
    client: Any, path: str, meant: str, accept: str
) -> None:
    """An address below the list that has no page says so, with the nearest question and with all of them."""
    response = client.get(path, headers={"accept": accept})
    assert response.status_code == 404
    assert response.headers["content-type"].startswith("text/html")
    main = response.text.partition("<main")[2].partition("<h2>")[0]
    assert re.findall('href="(.*?)"', main) == ([f"/ask/{meant}"] if meant else [])
    assert "/ask/direct-load" in response.text
    assert "<b>" not in response.text


@pytest.mark.parametrize("path", ["/ask/nothing", "/ask/pack/more"])
def test_a_program_that_takes_no_page_is_told_in_json(
    client: Any, is_problem: Any, path: str
) -> None:
    """Who accepts only JSON gets a problem document where there is no page."""
    is_problem(client.get(path, headers={"accept": "application/json"}), "not-found", 404)


def test_the_style_is_the_sites_own(client: Any) -> None:
    """One sheet has the colours, the plain pages and the forms, and loads nothing from elsewhere."""
    response = client.get("/ask/style.css")
    assert response.headers["content-type"] == "text/css; charset=utf-8"
    for part in ("--pc-paper", ".pc-answer", ".pc-picture"):
        assert part in response.text
    assert not re.search(r"url\((?!.data:)|@import", response.text)


def test_a_page_is_compressed_and_has_a_head(client: Any) -> None:
    """A phone gets a page in a coding that it takes, and HEAD gets the head alone."""
    packed = client.get("/ask/", headers={"accept-encoding": "gzip"})
    assert packed.headers["content-encoding"] == "gzip"
    assert "<h1>" in packed.text
    head = client.head("/ask/pack")
    assert head.status_code == 200
    assert head.content == b""
    assert int(head.headers["content-length"]) > 2000


def test_links_into_the_site_are_there_with_the_site(tmp_path: Any) -> None:
    """With the site beside it an answer links to rules, method and table row; alone it has no dead link."""
    query = urlencode(QUESTIONS["direct-load"].example)
    for site in (None, tmp_path):
        with TestClient(create_app(site)) as caller:
            page = Page(caller.get(f"/ask/direct-load?{query}").text)
        links = {link["href"] for link in page.all("a")}
        paths = {link for link in links if not link.startswith(("#", "/ask", "/v1"))}
        assert bool(paths) == bool(site)
        assert f"/v1/direct-load?{query}" in links


def listed(client: Any, question: str, *pairs: tuple[str, str], follow: bool = True) -> Any:
    return client.get(f"/ask/{question}?{urlencode(pairs)}", follow_redirects=follow)


TWO_CELLS = [
    ("cells.open_circuit_voltage_v", "4.1"),
    ("cells.cell_resistance_ohm", "0.02"),
    ("cells.cell_capacity_ah", "3"),
    ("cells.open_circuit_voltage_v", "3.9"),
    ("cells.cell_resistance_ohm", "0.02"),
    ("cells.cell_capacity_ah", "3"),
]


def test_entries_in_which_nothing_was_typed_do_not_count(client: Any) -> None:
    """A form sends every entry; the address has only those that say something, each value at its cell."""
    empty = [(name, "") for name, _ in TWO_CELLS[:3]]
    pairs = [*TWO_CELLS[:3], *empty, *TWO_CELLS[3:], *empty]
    contacts = [("cells.contact_resistance_ohm", "")] * 4
    response = listed(client, "joining", *pairs, *contacts, follow=False)
    assert response.status_code == 303
    query = urlencode(sorted(TWO_CELLS, key=lambda pair: TWO_CELLS.index((pair[0], pair[1])) % 3))
    assert response.headers["location"] == f"/ask/joining?{query}"
    page = Page(client.get(response.headers["location"]).text)
    typed = {control.get("id"): control.get("value") for control in controls(page)}
    assert typed["f-cells.open_circuit_voltage_v-0"] == "4.1"
    assert typed["f-cells.open_circuit_voltage_v-1"] == "3.9"
    # room for more is always left
    assert typed["f-cells.open_circuit_voltage_v-2"] == ""


def test_a_fault_stands_at_its_field_of_its_cell(client: Any) -> None:
    """What is wrong in the second cell is told there, with the number of the cell."""
    pairs = [*TWO_CELLS[:3], ("cells.open_circuit_voltage_v", "x"), *TWO_CELLS[4:]]
    response = listed(client, "joining", *pairs)
    assert response.status_code == 400
    page = Page(response.text)
    assert page.all("a", href="#f-cells.open_circuit_voltage_v-1")
    assert page.all("p", id="f-cells.open_circuit_voltage_v-1-fault")
    (field,) = page.all("input", id="f-cells.open_circuit_voltage_v-1")
    assert (field["value"], field["aria-invalid"]) == ("x", "true")
    assert "Cell 2: open-circuit voltage" in page.text


def test_too_few_entries_are_told_at_the_list(client: Any) -> None:
    """One cell is joined with nothing."""
    response = listed(client, "joining", *TWO_CELLS[:3])
    assert response.status_code == 422
    page = Page(response.text)
    assert page.all("a", href="#f-cells")
    assert page.text.count("The list must have at least 2 entries") == 2


def test_a_missing_value_of_an_entry_is_told_at_it(client: Any) -> None:
    """An entry that lacks a needed value is no empty one."""
    blank = [("cells.open_circuit_voltage_v", "3.9"), ("cells.cell_resistance_ohm", "")]
    response = listed(client, "joining", *TWO_CELLS[:3], *blank, TWO_CELLS[5])
    assert response.status_code == 422
    assert Page(response.text).all("a", href="#f-cells.cell_resistance_ohm-1")


def test_a_column_of_numbers_is_pasted(client: Any) -> None:
    """A measured discharge is typed as two columns, with the decimal comma of a spreadsheet too."""
    pairs = [("layout", "1S1P"), ("cell_rating_a", "20"), ("output_power_w", "10")]
    pairs += [("cell_capacity_ah", "2.5"), ("measured_discharge.current_a", "0.5")]
    charge = "\n".join(f"{0.25 * step:g}" for step in range(11)).replace(".", ",")
    volts = "\r\n".join(f"{4.15 - 0.13 * step:g}" for step in range(11))
    pasted = [("measured_discharge.charge_ah", charge), ("measured_discharge.voltage_v", volts)]
    response = listed(client, "running-time", *pairs, *pasted)
    assert response.status_code == 200
    assert "2.5</textarea>" in response.text


def test_labels_that_nobody_gave_have_no_column(client: Any) -> None:
    """Sets of cells without labels are told by their numbers; a label that was given is shown alone."""
    cells = [("3", "0.02", "4.19"), ("2.9", "0.02", "4.19")]
    names = ("cells.cell_capacity_ah", "cells.cell_resistance_ohm", "cells.open_circuit_voltage_v")
    pairs = [(name, value) for one in cells for name, value in zip(names, one, strict=True)]
    page = listed(client, "matched-sets", *pairs, ("cells_in_set", "2")).text
    assert "Cell numbers" in page
    assert ">Labels<" not in page
    labelled = [*pairs, ("cells.label", ""), ("cells.label", "blue"), ("cells_in_set", "2")]
    page = listed(client, "matched-sets", *labelled).text
    assert ">Labels<" in page
    assert "<td>blue</td>" in page


def test_a_long_column_is_answered_where_it_was_typed(client: Any) -> None:
    """The address of the API would be longer than a server takes, so none is offered."""
    pairs = [("layout", "1S1P"), ("cell_rating_a", "20"), ("output_power_w", "10")]
    pairs += [("cell_capacity_ah", "2.5"), ("measured_discharge.current_a", "0.5")]
    charge = "\n".join(f"{step / 160:g}" for step in range(400))
    volts = "\n".join(f"{4.15 - step / 400:.3f}" for step in range(400))
    pasted = [("measured_discharge.charge_ah", charge), ("measured_discharge.voltage_v", volts)]
    response = listed(client, "running-time", *pairs, *pasted, follow=False)
    assert response.status_code == 200
    assert len(response.url.raw_path) < TARGET_LIMIT
    page = Page(response.text)
    assert "too long for an address" in page.text
    assert max(len(link["href"]) for link in page.all("a")) < TARGET_LIMIT


@pytest.mark.parametrize("name", [name for name in LINKED if form_of(QUESTIONS[name]).lists])
def test_a_full_list_fits_into_an_address(client: Any, name: str) -> None:
    """As many entries as a form says it takes, each with all fields, are no longer than a server reads."""
    page = Page(client.get(f"/ask/{name}").text)
    (rows,) = form_of(QUESTIONS[name]).lists.values()
    fields = [control["name"] for control in controls(page)]
    alone = [(field, "0.0123") for field in {*fields} if not field.startswith(f"{rows.name}.")]
    filled = [(column.name, "0.0123") for column in rows.columns] * rows.most
    assert f"Up to {rows.most}" in page.text
    assert len(f"/ask/{name}?{urlencode(alone + filled)}") <= TARGET_LIMIT


def send(client: Any, *files: tuple[str, bytes], **typed: str) -> Any:
    parts = [("log", (name, content, "text/csv")) for name, content in files]
    return client.post("/ask/discharge-test", files=parts or {"log": ("", b"")}, data=typed)


def test_logs_are_read_from_files(client: Any) -> None:
    """The page of an upload says what the API says of the same log, under the name of its file."""
    response = send(client, ("cell 7.csv", EXAMPLE.encode()), stop_voltage_v="2,75")
    assert response.status_code == 200
    headers = {"content-type": "text/csv"}
    path = "/v1/discharge-test/log?stop_voltage_v=2.75"
    answer = client.post(path, content=EXAMPLE, headers=headers).json()
    page = Page(response.text)
    assert "cell 7" in page.text
    # each with its unit, and no more digits than anyone can use
    assert "0 Ah, 0.2722 Ah" in page.text
    for finding in answer["findings"]:
        assert finding["sentence"].replace("Log 1", "cell 7") in page.text
    assert [field["value"] for field in page.all("input", id="f-stop_voltage_v")] == ["2.75"]
    assert "no address" in page.text
    assert not [a for a in page.all("a") if a["href"].startswith("/v1/discharge-test?")]
    assert response.headers["cache-control"] == "no-store"


def test_a_repeated_test_proves_its_rating_from_two_files(client: Any) -> None:
    """Two files of one cell are two tests, which one file is not."""
    files = []
    for log in QUESTIONS["discharge-test"].example["logs"]:
        names = [name for name in log if name != "label"]
        rows = [",".join(map(str, row)) for row in zip(*(log[name] for name in names), strict=True)]
        files.append((f"{log['label']}.csv", "\n".join([",".join(names), *rows]).encode()))
    proved = Page(send(client, *files, stop_voltage_v="2.75").text)
    assert "2 logs from full to empty prove a continuous rating" in proved.text
    assert "prove no continuous rating" not in proved.text
    assert "cell 7 again" in proved.text
    alone = Page(send(client, files[0], stop_voltage_v="2.75").text)
    assert "prove no continuous rating" in alone.text


@pytest.mark.parametrize(
    ("files", "typed", "status", "told"),
    [
        ([], {}, 422, "Choose a file."),
        ([("x.csv", b"")], {}, 422, "x: "),
        ([("x.csv", b"\xff\xfe\x00")], {}, 422, "UTF-8"),
        (
            [("x.csv", EXAMPLE.replace("3.66", "<b>").encode())],
            {},
            422,
            "Row 4 below the names, column “voltage_v”: '<b>' is not a number.",
        ),
        (
            [("x.csv", b"Zeit [s];U/V;I [mA]\n0;4,1;10\n1;9000;10\n")],
            {},
            422,
            "Row 2 below the names, column “U/V”: 9000 is outside",
        ),
        (
            [("x.csv", b"a,b\n1,2\n")],
            {},
            422,
            "There is no voltage column. Name it “Voltage”, or give its name in “Voltage column”.",
        ),
        (
            [("x.csv", b"t,U1,U2,I\n1,2,3,4\n")],
            {},
            422,
            "2 columns could be the voltage: 'U1', 'U2'. Give the right one in “Voltage column”.",
        ),
        ([("x.csv", EXAMPLE.encode())], {"stop_voltage_v": "two"}, 400, "number"),
        ([("x.csv", EXAMPLE.encode())], {"voltage_column": "Spannung"}, 422, "Spannung"),
        ([(f"{i}.csv", b"x") for i in range(21)], {}, 422, "Choose 20 files or fewer."),
    ],
)
def test_what_is_wrong_with_files_is_told_at_them(
    client: Any, files: Any, typed: Any, status: int, told: str
) -> None:
    """A fault names the file and the row, and what was typed stays."""
    response = send(client, *files, **typed)
    assert response.status_code == status
    page = Page(response.text)
    assert told in page.text
    assert "<b>" not in response.text
    for name, value in typed.items():
        assert [field["value"] for field in page.all("input", id=f"f-{name}")] == [value]


def test_a_body_that_is_no_form_or_too_large_has_its_page(client: Any) -> None:
    """It says what can be sent, with the right status."""
    large = b"time_s,voltage_v,current_a\n" + b"0,4,1\n" * 2_000_000
    response = send(client, ("x.csv", large), stop_voltage_v="2,75", voltage_column="U é")
    assert response.status_code == 413
    page = Page(response.text)
    assert "10 MiB or less" in page.text
    assert [field["value"] for field in page.all("input", id="f-stop_voltage_v")] == ["2.75"]
    assert [field["value"] for field in page.all("input", id="f-voltage_column")] == ["U é"]
    headers = {"content-type": "multipart/form-data; boundary=b"}
    response = client.post("/ask/discharge-test", content=b"nothing", headers=headers)
    assert response.status_code in (400, 422)
    Page(response.text)


@pytest.mark.parametrize("head", [b"--b\r\n\r\n\xff", b"--c\r\n", b"--b\r\nX" * 20_000])
def test_a_large_body_that_no_form_sends_has_its_page_too(client: Any, head: bytes) -> None:
    """What cannot be read before the files is left out, and the status stays."""
    headers = {"content-type": "multipart/form-data; boundary=b"}
    content = head + b"x" * 11 * 1024 * 1024
    response = client.post("/ask/discharge-test", content=content, headers=headers)
    assert response.status_code == 413
    assert "10 MiB or less" in Page(response.text).text


def test_the_files_of_a_form_are_its_last_field(client: Any) -> None:
    """A browser sends what was typed before the files, so that it can be read if these are too large."""
    names = [control["name"] for control in controls(Page(client.get("/ask/discharge-test").text))]
    assert names[-1] == "log"
    assert len(names) > 10


@pytest.mark.parametrize("coding", [b"", b"\r\nContent-Type: text/plain; charset=none-such"])
def test_a_field_that_is_no_text_is_refused(client: Any, coding: bytes) -> None:
    """Bytes that are no text in a field have the page of a body that could not be read."""
    part = b'--b\r\nContent-Disposition: form-data; name="stop_voltage_v"' + coding
    headers = {"content-type": "multipart/form-data; boundary=b"}
    content = part + b"\r\n\r\n\xff\xfe\r\n--b--\r\n"
    response = client.post("/ask/discharge-test", content=content, headers=headers)
    assert response.status_code == 400
    assert "could not be read" in Page(response.text).text


@pytest.mark.parametrize("media", ["application/x-www-form-urlencoded", "application/json", "a"])
def test_a_body_that_no_form_sends_is_not_read(client: Any, media: str) -> None:
    """Other bodies than a form's can have parts without end, so they are refused unread."""
    response = client.post(
        "/ask/discharge-test", content=b"1=1&" * 200_000, headers={"content-type": media}
    )
    assert response.status_code == 400
    assert "could not be read" in Page(response.text).text


def test_a_long_text_beside_the_files_does_not_come_back(client: Any) -> None:
    """What no query could say is refused, and not sent back in full."""
    response = send(client, ("x.csv", EXAMPLE.encode()), stop_voltage_v="9" * 1_000_000)
    assert response.status_code == 400
    assert len(response.content) < 50_000


def test_a_log_form_can_be_linked_with_what_stands_beside_the_files(client: Any) -> None:
    """The limits may come from an address; the files cannot."""
    page = Page(client.get("/ask/discharge-test?stop_temperature_c=55").text)
    assert [field["value"] for field in page.all("input", id="f-stop_temperature_c")] == ["55"]
    (form,) = page.all("form")
    assert (form["method"], form["enctype"]) == ("post", "multipart/form-data")


def test_one_figure_under_two_names_reads_the_same(client: Any) -> None:
    """The current that a pack may give and the current at the highest power are one number, printed once."""
    page = ask(client, "highest-power", layout="1S2P", cell_rating_a=35).text
    limit, current = (
        re.search(f'<th scope="row">{label}</th><td class="pc-number">(.*?)</td>', page)
        for label in ("Highest allowed current of the pack", "Current of the pack")
    )
    assert limit
    assert current
    assert limit[1] == current[1]


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("pack", "2600 mAh is 2.6 Ah."),
        ("cell-sag", "20 mΩ is 0.02 Ω."),
        ("layouts", "10 min is 600 s."),
        ("highest-power", "0.05 means 5 %."),
    ],
)
def test_a_unit_that_people_write_otherwise_is_explained(client: Any, name: str, said: str) -> None:
    """Who knows milliampere-hours, milliohms, minutes or percent reads what to type."""
    assert said in client.get(f"/ask/{name}").text


@pytest.mark.parametrize("name", ASKING)
def test_a_field_is_explained_in_words(name: str) -> None:
    """No explanation of a field has the name of a field or of a value, a number with an exponent, or JSON in it."""
    for field in form_of(QUESTIONS[name]).fields.values():
        said = f"{field.hint} {field.default}"
        assert not re.search(r"\b[a-z]+_[a-z]|`|\de[+−-]|\bobject\b", said), said
        values = {one.value for one in field.choices if one.value != one.text}
        assert not [value for value in values if re.search(rf"\b{value}: ", said)], said
        assert field.default not in values


@pytest.mark.parametrize("layout", ["9X", "2S1P2S1P", "21S1P", "two"])
def test_a_wrong_layout_is_explained_without_json(client: Any, layout: str) -> None:
    """Who writes a wiring wrongly reads how to write it, and of no object."""
    page = ask(client, "pack", layout=layout, cell_capacity_ah=3).text
    assert "Write the cells in series, S, and the cells in parallel, P" in page
    assert "object" not in page


@pytest.mark.parametrize("site", ["", "https://cells.example"])
def test_paper_and_pasted_text_have_no_address_that_leads_nowhere(
    client: Any, monkeypatch: Any, site: str
) -> None:
    """Without a configured address neither a print nor a text to paste has a path for one; both have version and date."""
    monkeypatch.setenv("PERCELL_SITE_URL", site)
    asked = {"layout": "1S1P", "cell_rating_a": 20, "coil_reading_ohm": 0.3}
    html = ask(client, "direct-load", **asked).text
    (printed,) = re.findall('<div class="pc-colophon">(.*?)</div>', html)
    pasted = html.partition('<pre tabindex="0">')[2].partition("</pre>")[0]
    assert (f"{site}/ask/direct-load?" in printed) is bool(site)
    assert (f": {site}/tables/" in pasted) is bool(site)
    if not site:
        assert "/ask" not in printed
        assert "/tables" not in pasted
    for text in (printed, pasted):
        assert re.search(
            rf"\d{{4}}-\d\d-\d\d[^<]*percell {VERSION}|percell {VERSION}, \d{{4}}-", text
        )


def test_a_layout_is_typed_as_its_hint_says(client: Any) -> None:
    """Where a layout has no picture, its hint names what can be typed, and not the words of a picture."""
    text = client.get("/ask/running-time-comparison").text
    hint = text.partition('<p id="f-setups.layout-about">')[2].partition("</p>")[0]
    assert "2S1P is two cells in series" in hint
    assert "Two in series" not in text


def test_a_layout_may_have_spaces(client: Any) -> None:
    """“2S 1P” is 2S1P."""
    response = ask(client, "pack", layout=" 2s 1P", cell_rating_a=20, cell_capacity_ah=3)
    assert "layout=2s1P&" in str(response.url)
    assert response.status_code == 200


def test_a_word_that_is_no_choice_is_told_with_those_that_are(client: Any) -> None:
    """A choice from an address of one's own is refused in the words of the form."""
    typed = {"cell_rating_a": 20, "cell_capacity_ah": 3}
    page = Page(ask(client, "pack", layout="1S1P", chemistry="lead", **typed).text)
    assert "Chemistry: Choose one: " in page.text
    assert "iron phosphate" in page.text
    assert "lco_high_voltage" not in page.text


def test_values_with_units_are_tidied_into_the_query(client: Any) -> None:
    """The address to copy has plain numbers in the API's units, whatever was typed."""
    typed = {"cell_capacity_ah": "2600 mAh", "cell_rating_a": "20 A", "output_power_w": "40 W"}
    response = ask(
        client, "running-time", layout="2S1P", **typed, draw_length_s="1 min", efficiency="90 %"
    )
    query = dict(part.split("=") for part in str(response.url).partition("?")[2].split("&"))
    assert query == {
        "layout": "2S1P",
        "cell_capacity_ah": "2.6",
        "cell_rating_a": "20",
        "output_power_w": "40",
        "draw_length_s": "60",
        "efficiency": "0.9",
    }
    assert client.get(f"/v1/running-time?{str(response.url).partition('?')[2]}").status_code != 400


def test_an_object_in_place_of_a_number_is_told(client: Any) -> None:
    """A part of a field that has none is a fault like any other."""
    response = client.get("/ask/pack?layout=1S1P&cell_rating_a.x=1&cell_capacity_ah=3")
    assert response.status_code in (400, 422)
    assert 'id="faults"' in response.text
