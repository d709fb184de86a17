"""The pages for a reader in a hurry: what to do now, what is true, and where each line comes from."""

import re
from pathlib import Path

import pytest

DOCS = Path(__file__).parents[2] / "site/docs"


def items(html):
    """The lines of a page that say what to do."""
    return re.findall(r"<li>\s*(.+?)\s*</li>", html, re.DOTALL)


@pytest.fixture(scope="module")
def steps(site):
    """The instructions of the page for an accident, and its list of sources."""
    page = (site / "something-happened/index.html").read_text("utf-8")
    said, _, sources = page.partition('<div class="pc-steps">')[2].partition(
        '<div class="pc-sources">'
    )
    return items(said), sources.partition("</div>")[0]


def test_each_instruction_has_its_source_beside_it(steps):
    """No line without a published source; each source is named in full at the end, and none is unused."""
    lines, sources = steps
    assert len(lines) > 12
    used = set()
    for line in lines:
        cited = re.findall(r"<cite>(.+?)</cite>", line)
        assert cited, line
        assert line.endswith("</cite>"), line
        used |= {name for names in cited for name in names.split(", ")}
    assert used == set(re.findall(r"<strong>(.+?)</strong>", sources))


def test_distance_and_the_emergency_number_come_first(steps):
    """The first line says to get away, the second to call; so does the sentence below the title."""
    lines, _ = steps
    assert "Get away" in lines[0]
    assert "emergency number" in lines[1]
    page = (DOCS / "something-happened.md").read_text("utf-8")
    lede = page.partition("# Something happened")[2].strip().splitlines()[0]
    assert lede.index("Get away") < lede.index("emergency number")


def test_the_accident_page_needs_no_look_up(site):
    """It leads to no table, and asks for no number of the reader's own."""
    page = (site / "something-happened/index.html").read_text("utf-8")
    article = page.partition("<article")[2].partition("</article>")[0]
    assert "/tables/" not in article
    assert "/ask" not in article


@pytest.mark.parametrize("name", ["flying-and-posting", "storing-and-disposal"])
def test_each_line_of_advice_says_where_it_comes_from(site, name):
    """Rules of carriage, storing and disposal name their source, or say that there is no published one."""
    page = (site / name / "index.html").read_text("utf-8")
    lists = re.findall(r'<div class="pc-ruled">(.+?)</div>', page, re.DOTALL)
    lines = [line for one in lists for line in items(one)]
    assert len(lines) > 9
    assert all("</cite>" in line for line in lines)


def test_a_form_for_energy_says_why_it_needs_a_rating(site):
    """Who only asks for watt-hours learns why the form needs a rating, and that the energy does not depend on it."""
    page = (site / "flying-and-posting" / "index.html").read_text("utf-8")
    before, _, form = page.partition('action="/ask/pack"')
    assert 'name="cell_rating_a"' in form.partition("</form>")[0]
    assert "The rating does not change the energy." in before[-1500:]


def sayings():
    """Each saying with its section in the source."""
    parts = (DOCS / "sayings.md").read_text("utf-8").split("\n## ")[1:]
    return [(part.splitlines()[0], part.partition("\n")[2]) for part in parts]


@pytest.mark.parametrize(("saying", "said"), sayings(), ids=[name for name, _ in sayings()])
def test_each_saying_has_a_verdict_and_a_number_with_its_row(site, saying, said):
    """First whether it is true, then a figure that the API calculated, as a link to its row."""
    anchor = re.search(r"{ #([\w-]+) }", saying)[1]
    assert re.match(r"\s*\*\*[A-Z].+?\.\*\*", said)
    assert "{{ linked: " in said
    page = (site / "sayings/index.html").read_text("utf-8")
    section = page.partition(f'id="{anchor}"')[2].partition("<h2")[0]
    assert re.search(
        r'<a href="\.\./tables/[\w-]+/[\w.-]+/[^"]*"><strong>[^<]+</strong></a>', section
    )


def test_the_sayings_that_are_heard_most_are_there():
    """Parallel, series, regulated, new with old, watts, mAh and pulse each have their section."""
    anchors = " ".join(name for name, _ in sayings())
    for name in (
        "parallel-halves",
        "series-harder",
        "regulated",
        "new-with-old",
        "more-watts",
        "mah",
        "pulse",
    ):
        assert f"#{name} }}" in anchors


def test_home_leads_to_what_cannot_wait_before_any_number(site):
    """The first link of the home page is the page for an accident; it is short, and each door has a figure."""
    home = (site / "index.html").read_text("utf-8")
    article = home.partition("<article")[2].partition("</article>")[0]
    links = re.findall(r'<a href="([^"#]+)[^"]*"', article)
    assert links[:3] == ["something-happened/", "flying-and-posting/", "/ask/"]
    before, *doors = article.split('<section class="pc-door">')
    assert "The figures here leave no" in before
    assert len(doors) == 3
    assert all(re.search(r'tables/[^"]+"><strong>[^<]+</strong>', door) for door in doors)
    assert len((DOCS / "index.md").read_text("utf-8").split()) < 450


def test_halves_are_not_the_last_word_on_layouts(site):
    """Beside the diagrams of even shares a reader finds what the worst-case cell of two carries."""
    section = (site / "learn" / "layouts" / "index.html").read_text("utf-8")
    section = section.partition('id="two-in-parallel')[2].partition("<h2")[0]
    figures = re.findall(r'<a href="[^"]*tables/([^"]+)"><strong>([\d.]+)\sA</strong>', section)
    power, coil = (float(figure) for _, figure in figures)
    # even shares: 60 W / 0.85 / 3.2 V / 2, and 4.2 V / 0.5 ohm / 2
    assert power > 11.1
    assert coil > 4.2
