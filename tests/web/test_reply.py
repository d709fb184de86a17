"""A reply is the same answer as text: figure, working, caution, link, in the markup asked for."""

import pytest

from percell import VERSION
from percell.questions.answering.reply import Markup
from percell.questions.registry import QUESTIONS

ASKED = "direct-load?layout=1S2P&cell_rating_a=20&coil_reading_ohm=0.18"
# (0.18 Ω less 1 % and 3.5 digits of 0.01 Ω) is 0.1432 Ω; 4.2 V / 0.1432 Ω / 1.5 = 19.55 A, rounded up, by hand
FIGURE = "19.6 A"


@pytest.mark.parametrize(
    ("markup", "link"),
    [
        ("plain", f"In the table, percell {VERSION}: {{}}"),
        ("markdown", f"[In the table, percell {VERSION}]({{}})"),
        ("bbcode", f"[url={{}}]In the table, percell {VERSION}[/url]"),
    ],
)
def test_a_reply_has_headline_working_caution_and_link(client, monkeypatch, markup, link):
    """Each markup says the same, begins with the headline of the answer, and links to the published site."""
    monkeypatch.setenv("PERCELL_SITE_URL", "https://tables.example/")
    text = client.get(f"/v1/reply/{ASKED}&markup={markup}").text
    headline = client.get(f"/v1/{ASKED}").json()["headline"]
    assert text.splitlines()[1].strip() == headline
    assert f"the worst-case cell carries up to {FIGURE}" in headline
    assert "little headroom" in headline
    assert "I_cell = I / n: 29.33 A / 1.5 = 19.55 A" in text.replace("\\", "")
    assert "Never exceed the manufacturer's continuous discharge rating" in text
    assert (
        link.format("https://tables.example/tables/coil-current-and-power/0.18-ohm/1s2p/") in text
    )


@pytest.mark.parametrize("markup", Markup)
@pytest.mark.parametrize(
    "asked", ["lowest-resistance?layout=2S1P", "direct-load?layout=1S1P&coil_reading_ohm=0.2"]
)
def test_a_rating_that_cannot_be_believed_is_doubted_before_the_figure(client, asked, markup):
    """Who pastes the answer for a false label pastes the doubt with it, above what the label allows."""
    doubted = client.get(f"/v1/reply/{asked}&cell_rating_a=150&markup={markup}").text.splitlines()
    assert doubted[1].startswith("Do not believe a continuous rating of 150 A.")
    assert "cells rated 150 A" in doubted[2]
    assert "\n".join(doubted).count("Do not believe a continuous rating") == 1
    believed = client.get(f"/v1/reply/{asked}&cell_rating_a=20&markup={markup}").text
    assert "elieve" not in believed


@pytest.mark.parametrize(
    "forged",
    [
        {"host": "evil.example"},
        {"x-forwarded-host": "evil.example"},
        {"x-forwarded-proto": "evil", "x-forwarded-prefix": "/evil"},
        {"forwarded": "host=evil.example;proto=evil"},
    ],
)
def test_no_request_says_where_a_link_leads(client, monkeypatch, forged):
    """A cache in front keeps a reply for all, so nothing that one request says comes into it."""
    monkeypatch.delenv("PERCELL_SITE_URL", raising=False)
    honest = client.get(f"/v1/reply/{ASKED}")
    got = client.get(f"/v1/reply/{ASKED}", headers=forged)
    assert got.content == honest.content
    assert honest.text.endswith(": /tables/coil-current-and-power/0.18-ohm/1s2p/\n")


SETUPS = "&".join(
    f"setups.{name}={value}"
    for name, value in (("layout", "1S1P"), ("cell_capacity_ah", 3), ("output_power_w", 20))
    for _ in "ab"
)


@pytest.mark.parametrize(
    ("markup", "shown"),
    [
        ("plain", "[x](http://evil.example)<b>"),
        ("markdown", r"\[x\](http://evil.example)\<b\>"),
        ("bbcode", "(x)(http://evil.example)<b>"),
    ],
)
def test_a_name_that_a_caller_chose_makes_no_link(client, markup, shown):
    """Moderators paste a reply, and a name comes from whoever made the request."""
    name = "setups.label=%5Bx%5D(http://evil.example)%3Cb%3E&setups.label=b"
    text = client.get(f"/v1/reply/running-time-comparison?{SETUPS}&{name}&markup={markup}").text
    assert f"“{shown}”" in text


def test_a_name_that_a_caller_chose_stays_between_its_quotation_marks(client):
    """A reply is pasted by people: no name ends its quotation and goes on in percell's voice, or in bold."""
    name = "setups.label=A%E2%80%9D%20**was**:%20%22fine%22,%20_at_%20%6060%60%20%E2%80%9CB&setups.label=b"
    text = client.get(f"/v1/reply/running-time-comparison?{SETUPS}&{name}&markup=markdown").text
    assert r"“A' \*\*was\*\*: 'fine', \_at\_ \`60\` 'B”" in text
    assert "A”" not in text
    assert "“B" not in text


def test_each_setup_of_a_comparison_has_its_warning(client):
    """The headline has room for the gravest warning; those of the other setups follow it."""
    query = SETUPS + "&setups.label=a&setups.label=b&setups.cell_rating_a=5&setups.cell_rating_a=6"
    text = client.get(f"/v1/reply/running-time-comparison?{query}").text
    for name, rating in (("a", 5), ("b", 6)):
        said = f"Warning: “{name}”: The worst-case cell would carry"
        assert text.count(said) == 1
        assert f"above its continuous rating of {rating} A." in text


@pytest.mark.parametrize(
    "sign",
    ["%0A", "%0D", "%09", "%7F", "%C2%85", "%E2%80%A8", "%E2%80%AE", "%E2%81%A6", "%E2%80%8F"],
)
def test_a_name_has_one_line(client, is_problem, sign):
    """A line of its own, or text set backwards, would read as a sentence of the answer."""
    for name in (f"a{sign}Within the limits.", f"a{sign}"):
        query = f"{SETUPS}&setups.label=b&setups.label={name}"
        got = client.get(f"/v1/reply/running-time-comparison?{query}")
        is_problem(got, "outside-contract", 422, "/setups/1/label")


def test_faults_of_markup_and_question_come_together(client):
    """A wrong markup hides no fault of the question."""
    got = client.get("/v1/reply/direct-load?markup=html&layout=9X&cell_rating_a=20&colour=1")
    told = [(fault["pointer"], fault["code"]) for fault in got.json()["errors"]]
    assert told == [("/markup", "not_allowed"), ("/layout", "pattern"), ("/colour", "unknown")]


@pytest.mark.parametrize("name", [n for n, q in QUESTIONS.items() if q.has_query])
def test_every_question_with_a_query_has_a_reply(client, flat, name):
    """Nothing that can be asked by query lacks its text, in any markup."""
    for markup in Markup:
        fields = [*flat(QUESTIONS[name].example), ("markup", markup.value)]
        answer = client.get(f"/v1/reply/{name}", params=fields)
        assert answer.status_code == 200, answer.text
        assert answer.headers["content-type"] == "text/plain; charset=utf-8"
        assert f", percell {VERSION}" in answer.text


@pytest.mark.parametrize(
    ("query", "pointer"),
    [
        (f"{ASKED}&markup=html", "/markup"),
        ("direct-load?layout=1S2P&cell_rating_a=20", "/coil_reading_ohm"),
        (f"{ASKED}&more=1", "/more"),
    ],
)
def test_what_is_wrong_is_named(client, query, pointer):
    """A reply that cannot be made says which field is at fault."""
    answer = client.get(f"/v1/reply/{query}")
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == pointer


@pytest.mark.parametrize("markup", [one.value for one in Markup])
@pytest.mark.parametrize(
    ("query", "said"),
    [
        (
            "charging?layout=1S1P&cell_capacity_ah=3&open_circuit_voltage_v=1.5",
            "Do not charge it",
        ),
        ("temperature-rise?cell_size=18650&cell_current_a=30", "above 60 °C"),
        ("needed-rating?layout=1S2P&output_power_w=100&sharing=even", "unequal cells"),
        (
            "label-check?cell_size=18650&cell_rating_a=40&cell_capacity_ah=3",
            "do not believe this label",
        ),
        (ASKED, "Less than 10 % of the rating is left"),
    ],
)
def test_a_reply_carries_its_warnings(client, markup, query, said):
    """Who reads a pasted reply sees what was found, for the full answer does not come with it."""
    answer = client.get(f"/v1/reply/{query}&markup={markup}")
    assert answer.status_code == 200
    assert said in answer.text


def test_the_headline_has_the_gravest_and_the_lines_have_the_rest(client):
    """No finding is told twice, warnings stand before cautions, and a note is no line of a reply."""
    query = "direct-load?layout=1S3P&cell_rating_a=10&coil_resistance_ohm=0.1&sharing=even"
    _, headline, *lines = client.get(f"/v1/reply/{query}").text.splitlines()
    assert "Warning: The worst-case cell would carry" in headline
    marks = [line.partition(":")[0] for line in lines if line.startswith(("Warning", "Caution"))]
    assert marks == ["Caution"]
    power = "converter-load?layout=2S1P&cell_rating_a=25&output_power_w=20"
    assert "any other way" not in client.get(f"/v1/reply/{power}").text


@pytest.mark.parametrize("markup", ["plain", "markdown", "bbcode"])
@pytest.mark.parametrize(
    ("more", "said"),
    [
        (
            "",
            "Such times of single cells with the printed capacity (and the rating if known) were ",
        ),
        ("&chemistry=lfp", "This time can be far off. Nothing like it was measured: "),
    ],
)
def test_a_pasted_time_says_how_far_off_such_times_were(client, markup, more, said):
    """The note goes with the time, and with no other figure: an assessment leads with a current."""
    asked = "layout=2S1P&cell_capacity_ah=3&cell_rating_a=20&output_power_w=40"
    text = client.get(f"/v1/reply/running-time?{asked}{more}&markup={markup}").text
    assert said in text
    whole = client.get(f"/v1/reply/assessment?{asked}{more}&markup={markup}").text
    assert said not in whole


def test_the_first_line_is_never_the_milder_half(client):
    """Where the current is within the rating but something else is not, the headline says so."""
    asked = "direct-load?layout=2S1P&cell_rating_a=40&coil_resistance_ohm=0.5"

    def headline(more=""):
        return client.get(f"/v1/reply/{asked}{more}").text.splitlines()[1]

    assert "Within these limits: continuous rating" in headline()
    warned = headline("&cell_charged_voltage_v=4.35")
    assert "Over the limit: charged voltage" in warned
    assert "Within" not in warned


def test_a_reply_names_the_defaults_that_it_rests_on(client):
    """The line names what was not given and counts, and nothing that adds nothing or belongs to a model."""
    asked = "converter-load?layout=2S1P&cell_rating_a=25&output_power_w=60"

    def assumed(text):
        (line,) = [line for line in text.splitlines() if line.startswith("Assumed: ")]
        return line.partition(": ")[2]

    text = assumed(client.get(f"/v1/reply/{asked}").text)
    assert text == (
        "cells at 25 °C, nickel manganese cobalt oxide cells, a cut-off at 2.8 V per cell, a cut-off under load, "
        "0.005 Ω of contact resistance per cell, an efficiency of 85 %, an uneven share between cells in parallel "
        "and an internal resistance of 0.04 Ω per cell."
    )
    assert "efficiency" not in assumed(client.get(f"/v1/reply/{asked}&efficiency=0.9").text)
    claim = client.get("/v1/reply/label-check?cell_size=18650&cell_rating_a=20&cell_capacity_ah=3")
    assert "density" not in assumed(claim.text)
