"""The pages in a real browser: linking, copying, width and schemes."""

import gzip
import itertools
import json
import re
import shlex

import httpx
import pytest

TABLE = "/tables/coil-current-and-power/"
PATHS = ["/", "/tables/", TABLE, "/learn/layouts/", "/method/", "/api/", "/docs/api/", "/rules/"]


@pytest.mark.parametrize("path", PATHS)
def test_a_page_asks_no_third_party_and_raises_no_fault(open_page, address, path):
    """Everything comes from our own host, under the policy that the service sends."""
    page = open_page(path)
    page.wait_for_load_state("networkidle")
    foreign = [u for u in page.asked if not u.startswith((address, "data:", "blob:" + address))]
    assert not foreign
    assert not page.faults


WIDTHS = [320, 360, 768, 1280]
BOTH = pytest.mark.parametrize("fonts", ["narrow", "wide"])


@BOTH
def test_the_browser_has_the_fonts_of_the_reader(open_page, fonts, fonts_of_readers):
    """A word is as wide as in the font that the reader is to have, so that the next tests mean something."""
    page = open_page("/")
    width = """font => {
        const pen = document.createElement('canvas').getContext('2d');
        pen.font = `100px "${font}"`;
        return pen.measureText('resistance 0123456789').width;
    }"""
    named = zip(("serif", "sans-serif", "monospace"), fonts_of_readers[fonts], strict=True)
    for generic, font in named:
        pen = width.replace('"${font}"', "${font}")
        assert page.evaluate(pen, generic) == page.evaluate(width, font)
    other = next(name for name in fonts_of_readers if name != fonts)
    assert page.evaluate(width, "no such font") == page.evaluate(
        width, fonts_of_readers[other].serif
    )


@BOTH
def test_no_page_is_wider_than_the_screen(open_page, page_addresses):
    """From phone to desk, only tables and code scroll sideways, inside their own region."""
    # what moves when the window changes would be caught halfway
    page = open_page("/", reduced_motion="reduce")
    base = page.url.rstrip("/")
    wider = []
    for path in page_addresses:
        page.goto(base + path, wait_until="load")
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 800})
            found = page.evaluate("document.documentElement.scrollWidth")
            if found > width:
                wider.append((path, width, found))
    assert wider == []


@BOTH
@pytest.mark.parametrize(("size", "ends_by"), [((1280, 800), 800), ((360, 740), 1750)])
def test_the_list_of_tables_is_short(open_page, size, ends_by):
    """It is one screen on a desk; on a phone every line is a target for a thumb, and nothing is small."""
    width, height = size
    phone = width < 500
    page = open_page(
        "/tables/", viewport={"width": width, "height": height}, has_touch=phone, is_mobile=phone
    )
    index = page.locator(".pc-index")
    assert index.evaluate("e => e.getBoundingClientRect().bottom + scrollY") <= ends_by
    lines = index.locator("li a").evaluate_all(
        "all => all.map(a => [a.offsetHeight, parseFloat(getComputedStyle(a).fontSize)])"
    )
    assert len(lines) == 22
    assert min(tall for tall, _ in lines) >= (44 if phone else 24)
    assert min(letters for _, letters in lines) >= 12


@BOTH
def test_a_thumb_hits_the_link_of_a_row_and_what_clears_a_form(open_page):
    """On a touch screen both are as tall as a button; the link of a row is as wide, too."""
    phone = {"viewport": {"width": 360, "height": 740}, "has_touch": True, "is_mobile": True}
    page = open_page(f"{TABLE}?layout=2S1P", **phone)
    size = (
        "all => all.map(a => [a.getBoundingClientRect().width, a.getBoundingClientRect().height])"
    )
    rows = page.locator(".pc-grid .pc-anchor").evaluate_all(size)
    assert len(rows) > 5
    assert all(wide >= 44 and tall >= 44 for wide, tall in rows)
    assert page.evaluate("document.documentElement.scrollWidth") == 360
    page.goto(page.url.split("/tables/")[0] + "/ask/lowest-resistance")
    [(_, tall)] = page.get_by_role("link", name="Clear the form").evaluate_all(size)
    assert tall >= 44


@BOTH
def test_everything_in_the_header_is_in_view_on_a_phone(open_page):
    """Of what a reader can press in it nothing is cut off or lies on another, and a thumb can hit it."""
    page = open_page("/", viewport={"width": 320, "height": 600}, has_touch=True, is_mobile=True)
    assert page.evaluate("innerWidth") == 320
    parts = page.locator(":is(.md-header, .md-header + .pc-links) :is(a, button, label)")
    boxes = [
        part.bounding_box()
        for part in parts.all()
        if part.is_visible() and not part.evaluate("e => e.closest('.md-search')")
    ]
    assert len(boxes) == 4 + page.locator(".md-header + .pc-links a").count()
    for box, other in itertools.combinations(boxes, 2):
        across = min(box["x"] + box["width"], other["x"] + other["width"])
        down = min(box["y"] + box["height"], other["y"] + other["height"])
        assert across <= max(box["x"], other["x"]) + 0.5 or down <= max(box["y"], other["y"]) + 0.5
    assert all(box["x"] >= 0 and box["x"] + box["width"] <= 320 for box in boxes)
    assert all(box["width"] >= 24 and box["height"] >= 44 for box in boxes)


@BOTH
def test_the_words_of_the_comparison_can_be_read_on_a_phone(open_page):
    """None is below 12 px, none lies on another, and none is cut off at the edge of the picture."""
    page = open_page("/how-right/", viewport={"width": 360, "height": 800})
    picture, words, scale = page.locator(".pc-compared svg").evaluate(
        """svg => {
            const box = e => { const b = e.getBoundingClientRect(); return [b.left, b.top, b.right, b.bottom]; };
            const scale = svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
            return [box(svg), [...svg.querySelectorAll('text')].map(box), scale];
        }"""
    )
    size = page.locator(".pc-compared svg text").first.evaluate(
        "e => parseFloat(getComputedStyle(e).fontSize)"
    )
    assert size * scale >= 12
    assert len(words) > 10
    assert all(picture[0] <= one[0] and one[2] <= picture[2] for one in words)
    for one, other in itertools.combinations(words, 2):
        apart = one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
        assert apart


@BOTH
@pytest.mark.parametrize(
    ("width", "height", "last"),
    [(360, 860, ".pc-steps h2:first-child + ul"), (1280, 960, ".pc-steps")],
    ids=["phone", "desk"],
)
def test_what_to_do_now_is_one_screen(open_page, width, height, last):
    """When something happened, a phone shows the first steps at once, and a wide screen all of them."""
    page = open_page("/something-happened/", viewport={"width": width, "height": height})
    box = page.locator(last).bounding_box()
    assert box["y"] + box["height"] <= height


def test_a_linked_row_is_in_view_and_highlighted(open_page):
    """A link to a row shows that row, and highlights it."""
    page = open_page(TABLE + "#0.25-ohm")
    row = page.locator("tr[id='0.25-ohm']")
    background = "e => getComputedStyle(e.querySelector('th')).backgroundColor"
    assert row.evaluate("e => e.matches(':target')")
    other = page.locator("tr[id='3-ohm']")
    assert row.evaluate(background) != other.evaluate(background)
    box = row.bounding_box()
    assert 0 <= box["y"] <= page.viewport_size["height"]


def test_a_row_is_copied_as_link_and_as_reply_by_keyboard(open_page, address):
    """Both controls are buttons with names, and screen readers hear what was copied."""
    page = open_page(TABLE + "#0.5-ohm", permissions=["clipboard-read", "clipboard-write"])
    page.get_by_role("button", name="Copy link to the row 0.5 Ω").focus()
    page.keyboard.press("Enter")
    status = page.get_by_role("status").filter(has_text="Copied")
    status.wait_for()
    assert page.evaluate("navigator.clipboard.readText()") == f"{address}{TABLE}0.5-ohm/"
    page.keyboard.press("Tab")
    assert "reply" in page.evaluate("document.activeElement.ariaLabel")
    page.keyboard.press("Enter")
    status.filter(has_text="reply").wait_for()
    text = page.evaluate("navigator.clipboard.readText()")
    title, row, *rest = text.splitlines()
    assert title == page.locator("h1").inner_text().removesuffix("§").strip()
    holds_for = page.locator(".pc-conditions").inner_text()
    # 4.2 V and 8.4 V over 0.5 Ω less 1 % and 3.5 counts, by hand
    assert row.startswith(
        f"{holds_for} Coil reading 0.5 Ω: "
        "1S1P worst-case cell 9.2 A, coil 39 W; 2S1P worst-case cell 18.3 A"
    )
    assert "(over the rating of 20 A)" in row
    assert any("Never exceed the manufacturer's continuous" in line for line in rest)
    assert rest[-1] == f"{address}{TABLE}0.5-ohm/"


def test_what_is_copied_was_written_when_the_page_was_built(open_page):
    """A script that changes what a reader sees, such as a translation, does not change what they paste."""
    page = open_page(TABLE + "#0.5-ohm", permissions=["clipboard-read", "clipboard-write"])
    page.evaluate(
        "document.querySelectorAll('td:not(.pc-bar *), h1, .pc-strip').forEach(e => { e.textContent = '0' })"
    )
    page.get_by_role("button", name="Copy as a reply: the row 0.5 Ω").click()
    page.get_by_role("status").filter(has_text="Copied").wait_for()
    text = page.evaluate("navigator.clipboard.readText()")
    assert "2S1P worst-case cell 18.3 A" in text


def test_a_reply_about_one_figure_is_copied_whole(open_page, address):
    """The button copies the text of the page, with the address at which the reader found it."""
    path = "/tables/lowest-resistance/25-a/2s2p/"
    page = open_page(path, permissions=["clipboard-read", "clipboard-write"])
    page.get_by_role("button", name="Copy").focus()
    page.keyboard.press("Enter")
    page.get_by_role("status").filter(has_text="Copied").wait_for()
    text = page.evaluate("navigator.clipboard.readText()")
    assert text.startswith("Cells rated 25 A by their manufacturer, 2S2P, ")
    assert text.endswith(f" {address}{path}")
    # without a clipboard the text is selected and copied the older way
    page.evaluate("Object.defineProperty(navigator, 'clipboard', { value: undefined })")
    page.get_by_role("button", name="Copy").click()
    assert page.evaluate("getSelection().toString()") == text


def test_a_reply_can_be_selected_without_script(open_page):
    """The text is there, no button is, and one click selects all of it."""
    page = open_page("/tables/lowest-resistance/25-a/2s2p/", java_script_enabled=False)
    assert page.get_by_role("button").count() == 0
    quote = page.locator("#reply")
    assert quote.is_visible()
    assert quote.evaluate("e => getComputedStyle(e).userSelect") == "all"


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_stands_out_from_its_ground(open_page, scheme):
    """Text and background of a table keep the ratio 4.5 to 1 (WCAG 2.2, 1.4.3) in both schemes."""
    # without motion no colour is read on its way from one scheme to the other
    page = open_page(TABLE, color_scheme=scheme, reduced_motion="reduce")
    pairs = page.evaluate(
        """() => [...document.querySelectorAll('.pc-grid td, .pc-lede, .md-content a')].slice(0, 300).map(e => {
            let ground = e, colour;
            do { colour = getComputedStyle(ground).backgroundColor; ground = ground.parentElement; }
            while (ground && (colour === 'transparent' || colour.endsWith(', 0)')));
            return [getComputedStyle(e).color, colour];
        })"""
    )
    assert pairs
    for pair in pairs:
        light, dark = sorted((luminance(colour) for colour in pair), reverse=True)
        assert (light + 0.05) / (dark + 0.05) >= 4.5, pair


def luminance(colour):
    """Relative luminance of a CSS colour, by WCAG 2.2's own formula."""
    channels = [float(c) / 255 for c in re.findall(r"[\d.]+", colour)[:3]]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_a_figure_on_another_site_is_that_of_ours(open_page, address, serving):
    """Both snippets, pasted as printed into a page of another origin, show the same text there."""
    page = open_page("/for-site-owners/")
    static, live = page.locator(".md-content pre code").all_inner_texts()
    printed = re.search(r"https?://[^/]+", static)[0]
    pasted = f"<!doctype html><title>A club</title>{static}{live.replace(printed, address)}"

    async def club(_scope, _receive, send):
        head = [(b"content-type", b"text/html; charset=utf-8")]
        await send({"type": "http.response.start", "status": 200, "headers": head})
        await send({"type": "http.response.body", "body": pasted.encode()})

    with serving(club, lifespan="off") as (host, port):
        page.goto(f"http://{host}:{port}/")
        page.locator("#percell a").wait_for()
        ours, theirs = page.locator("blockquote").all_inner_texts()
        link = page.locator("#percell a").get_attribute("href")
    assert ours == theirs
    assert link == f"{address}/tables/lowest-resistance/25-a/2s1p/"
    assert "Never exceed the manufacturer's continuous discharge rating" in theirs


@BOTH
def test_what_a_table_assumes_fits_a_phone(open_page, site):
    """All three columns of the assumptions are in view."""
    width = 360
    page = open_page("/", viewport={"width": width, "height": 800})
    base = page.url.rstrip("/")
    seen = 0
    for file in sorted([*site.glob("tables/*/index.html"), *site.glob("cells/*/index.html")]):
        path = file.parent.relative_to(site).as_posix()
        page.goto(f"{base}/{path}/", wait_until="load")
        for table in page.locator("#assumptions + .md-typeset__scrollwrap table").all():
            box = table.bounding_box()
            assert box["x"] + box["width"] <= width, path
            seen += 1
    assert seen > 20


TRY = "/docs/api/"


def asked(page, question):
    """Open a question of the page with forms, fill in its example and ask; return its part of the page."""
    part = page.locator(f"details#{question}")
    part.locator(":scope > summary").click()
    if part.locator(".pc-example").count():
        part.locator(".pc-example").click()
    part.get_by_role("button", name="Ask", exact=True).click()
    part.locator(".pc-headline").wait_for()
    return part


def test_the_page_to_try_the_api_is_light(open_page):
    """With everything that it loads it has 300 kB at most, compressed."""
    page = open_page("/404")
    sizes = []
    page.on("response", lambda response: sizes.append(len(gzip.compress(response.body()))))
    page.goto(page.url.replace("/404", TRY), wait_until="networkidle")
    assert len(sizes) > 3
    assert sum(sizes) <= 300_000


@pytest.mark.parametrize("width", [360, 1280])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_page_to_try_the_api_can_be_used_by_everyone(open_page, npm_file, scheme, width):
    """With forms open and an answer shown, axe finds nothing and nothing is wider than the screen."""
    page = open_page(TRY, color_scheme=scheme, viewport={"width": width, "height": 900})
    for question in ("direct-load", "series-drift"):
        asked(page, question)
    page.locator("details#direct-load .pc-further > summary").click()
    page.evaluate(npm_file("axe-core", "axe.min.js").read_text("utf-8"))
    found = page.evaluate("axe.run()")
    assert found["passes"]
    assert [
        (one["id"], one["impact"], one["nodes"][0]["html"]) for one in found["violations"]
    ] == []
    assert page.evaluate("document.documentElement.scrollWidth") == width


def test_a_form_works_without_script(open_page, address):
    """A plain form asks by GET, with all that nobody filled in left empty, and the browser shows the answer."""
    page = open_page(TRY, java_script_enabled=False)
    part = page.locator("details#direct-load")
    part.locator(":scope > summary").click()
    part.get_by_label("Layout").fill("1S2P")
    part.get_by_label("Continuous rating per cell").fill("20")
    part.get_by_label("Coil reading").fill("0.25")
    part.get_by_role("button", name="Ask", exact=True).click()
    page.wait_for_url("**/v1/direct-load?*")
    answer = json.loads(page.locator("body").inner_text())
    asked_for = {"layout": "1S2P", "cell_rating_a": 20, "coil_reading_ohm": 0.25}
    assert answer["headline"] == posted(f"{address}/v1/direct-load", asked_for)["headline"]


def posted(url, body):
    """Return the answer to a POST."""
    return httpx.post(url, json=body).json()


def test_an_answer_is_shown_with_the_commands_that_ask_for_it(open_page):
    """The headline, the caution and the whole answer are shown, and both commands ask the same again."""
    part = asked(open_page(TRY), "direct-load")
    get, post, whole = part.locator(".pc-result code").all_inner_texts()
    shown = json.loads(whole)
    assert part.get_by_role("status").inner_text().startswith(shown["headline"])
    assert "Never exceed the manufacturer's rating" in part.get_by_role("status").inner_text()
    assert httpx.get(shlex.split(get)[1]).json() == shown
    words = shlex.split(post.replace("\\\n", " "))
    assert posted(words[1], json.loads(words[words.index("-d") + 1])) == shown


@pytest.mark.parametrize(
    ("rating", "look"),
    [("20", "pc-result"), ("14", "pc-result pc-wary"), ("5", "pc-result pc-grave")],
)
def test_an_answer_looks_as_grave_as_it_is(open_page, rating, look):
    """Below the limit, near it and over it the answer has three looks."""
    page = open_page(TRY)
    part = asked(page, "direct-load")
    part.get_by_label("Continuous rating per cell").fill(rating)
    part.get_by_role("button", name="Ask", exact=True).click()
    page.wait_for_function(
        "look => document.querySelector('#direct-load .pc-result').className === look", arg=look
    )


def test_a_fault_is_shown_at_its_field(open_page):
    """What the API refuses is said below the form, and leads to the field."""
    page = open_page(TRY)
    part = page.locator("details#direct-load")
    part.locator(":scope > summary").click()
    part.get_by_label("Layout").fill("1S2P")
    part.get_by_label("Continuous rating per cell").fill("20")
    part.locator("form").evaluate("form => { form.noValidate = true }")
    part.locator("#direct-load-coil_reading_ohm").fill("-1")
    part.get_by_role("button", name="Ask", exact=True).click()
    part.get_by_role("status").get_by_role("link", name="Coil reading").click()
    field = part.locator("#direct-load-coil_reading_ohm")
    assert field.get_attribute("aria-invalid") == "true"
    assert field.evaluate("field => field === document.activeElement")


def test_a_link_to_a_question_opens_its_form(open_page):
    """The name of a question in the address shows its form."""
    page = open_page(f"{TRY}#sharing-by-spread")
    assert page.locator("details#sharing-by-spread").get_attribute("open") is not None
    assert page.locator("details#pack").get_attribute("open") is None
