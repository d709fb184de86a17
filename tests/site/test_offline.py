"""Pages that a reader has opened can be read without network, and never an answer of the API."""

import json
import os
import re
import shutil

import pytest
from PIL import Image

from percell.web.app import create_app

ROW = "/tables/lowest-resistance/25-a/2s2p/"
TABLE, OTHER = "/tables/lowest-resistance/", "/learn/heat/"
KEPT = """async () => {
    const kept = [];
    for (const name of await caches.keys())
        for (const request of await (await caches.open(name)).keys())
            kept.push(new URL(request.url).pathname + new URL(request.url).search);
    return kept.sort();
}"""
MADE_OLD = """async days => {
    const cache = await caches.open((await caches.keys())[0]);
    for (const request of await cache.keys()) {
        const copy = await cache.match(request);
        const headers = new Headers(copy.headers);
        headers.set('x-percell-kept', new Date(Date.now() - days * 86400e3).toISOString());
        await cache.put(request, new Response(await copy.blob(), { headers }));
    }
}"""


@pytest.fixture
def folder(site, tmp_path):
    """The site in a folder of its own, in which a test can change a file."""
    return shutil.copytree(site, tmp_path / "site", copy_function=os.link)


@pytest.fixture
def reader(browser, serving, folder):
    """A reader's browser after the first visit, and the address of the site."""
    with serving(create_app(folder)) as (host, port):
        context = browser.new_context(viewport={"width": 360, "height": 740})
        page = context.new_page()
        address = f"http://{host}:{port}"
        page.goto(f"{address}/")
        page.wait_for_function("() => navigator.serviceWorker.controller !== null")
        yield page, address
        context.close()


def test_a_page_that_was_opened_can_be_read_offline(reader):
    """A copy says above its figures what it is a copy of and from when, works, and nothing else is kept."""
    page, address = reader
    page.goto(address + TABLE + "?layout=2S2P")
    asked = {"layout": "2S2P", "cell_rating_a": "25"}
    page.evaluate(
        "asked => fetch('/v1/lowest-resistance?' + new URLSearchParams(asked)).then(r => r.json())",
        asked,
    )
    for path in (
        "/ask/",
        "/v1/lowest-resistance?layout=2S2P&cell_rating_a=25",
        "/openapi.json",
        "/healthz",
    ):
        page.goto(address + path)
    page.goto(address + ROW)
    page.goto(address + TABLE)
    kept = page.evaluate(KEPT)
    assert {"/", TABLE, "/something-happened/", "/cautions/", "/contents/", "/tables/"} <= set(kept)
    assert {"/assets/theme.css", "/assets/percell.js", "/assets/percell.svg"} <= set(kept)
    assert not [
        one
        for one in kept
        if re.match(r"/(v\d|ask|openapi|healthz)|.*[?]|/tables/.*\.(csv|json)", one)
    ]

    assert page.locator(".pc-offline").count() == 0
    page.context.set_offline(True)
    page.goto(f"{address}{TABLE}?layout=1S3P#25-a")
    banner = page.locator(".pc-offline")
    assert re.match(
        r"Offline copy of percell \d+\.\d+\.\d+, built \d{4}-\d\d-\d\d\. Kept on \d{4}-\d\d-\d\d\.",
        banner.inner_text(),
    )
    assert banner.evaluate("e => e.getBoundingClientRect().bottom") <= page.locator("h1").evaluate(
        "e => e.getBoundingClientRect().top"
    )
    # the link leads further down, where the banner is out of sight
    assert page.locator(".pc-offline-mark").bounding_box()["y"] < 740
    assert page.locator("tr[id='25-a']").evaluate("e => e.matches(':target')")
    assert page.get_by_role("button", name="Contents").count() == 1, "its script is kept as well"

    page.goto(address + ROW)
    assert banner.inner_text().startswith("Offline copy of percell")
    page.goto(address + OTHER)
    assert page.get_by_role("heading", name="You are offline").count() == 1
    page.locator(f"a[href='{address}{TABLE}']").click()
    assert banner.count() == 1


def test_a_copy_is_not_shown_after_thirty_days(reader):
    """Until then it is, afterwards it is gone; a copy from the future is as wrong as an old one."""
    page, address = reader
    page.goto(address + TABLE)
    page.context.set_offline(True)
    for days, shown in ((29.9, 1), (30.1, 0)):
        page.evaluate(MADE_OLD, days)
        page.goto(address + TABLE)
        assert page.locator(".pc-offline").count() == shown
    assert TABLE not in page.evaluate(KEPT)
    page.context.set_offline(False)
    page.goto(address + TABLE)
    page.context.set_offline(True)
    page.evaluate(MADE_OLD, -2)
    page.goto(address + TABLE)
    assert page.locator(".pc-offline").count() == 0


def test_what_to_do_first_never_expires(reader):
    """Long after every copy is gone, a reader without network is told to get away and whom to call, with sources."""
    page, address = reader
    page.context.set_offline(True)
    page.evaluate(MADE_OLD, 400)
    page.goto(f"{address}/something-happened/")
    assert page.locator("h1").inner_text() == "You are offline"
    text = page.locator("main").inner_text()
    for line in (
        "Get away from it first. Then call the local emergency number.",
        "112 in the European Union, 911 in Canada and the United States",
        "Stay out of the smoke. It can be toxic. ERG",
        "several of them from memory, unconfirmed",
    ):
        assert line in text
    # the rest is on the page itself
    assert "Somebody is hurt" not in text
    assert not re.search("[{}]|Number here", text)


def test_another_version_drops_the_copies_of_the_last(reader, folder):
    """Its figures may differ."""
    page, address = reader
    page.goto(address + TABLE)
    assert TABLE in page.evaluate(KEPT)
    script = (folder / "sw.js").read_text("utf-8")
    other = re.sub(r'const CACHE = MINE \+ "[\d.]+"', 'const CACHE = MINE + "9.9.9"', script)
    assert other != script
    (folder / "sw.js").unlink()
    (folder / "sw.js").write_text(other, "utf-8")
    page.goto(address + OTHER)
    page.evaluate("navigator.serviceWorker.ready.then(found => found.update())")
    for _ in range(100):
        if [name.split()[-1] for name in page.evaluate("caches.keys()")] == ["9.9.9"]:
            break
        page.wait_for_timeout(100)
    assert [name.split()[-1] for name in page.evaluate("caches.keys()")] == ["9.9.9"]
    assert TABLE not in page.evaluate(KEPT)


def test_the_site_can_be_put_on_a_home_screen(site):
    """The manifest has a name, a start within the site, and icons that are there, in the size that it says."""
    manifest = json.loads((site / "manifest.webmanifest").read_text("utf-8"))
    assert (manifest["start_url"], manifest["scope"]) == ("./", "./")
    assert all((site / icon["src"]).is_file() for icon in manifest["icons"])
    sizes = {icon["src"]: icon["sizes"] for icon in manifest["icons"]}
    assert {"192x192", "512x512"} <= {*sizes.values()}
    del sizes["assets/percell.svg"]
    for src, size in (sizes | {"assets/icon-180.png": "180x180"}).items():
        with Image.open(site / src) as drawn:
            assert (drawn.format, f"{drawn.width}x{drawn.height}") == ("PNG", size)
            # the mark is in the middle, and does not touch the edge
            drawn = drawn.convert("RGB")
            assert len({drawn.getpixel((0, y)) for y in range(drawn.height)}) == 1
            assert drawn.getpixel((drawn.width // 2, drawn.height // 2)) != drawn.getpixel((0, 0))
    for page, root in ((TABLE[1:], "../../"), (f"{TABLE[1:]}25-a/", "../../../")):
        text = (site / page / "index.html").read_text("utf-8")
        assert f'rel="manifest" href="{root}manifest.webmanifest"' in text
        assert f'rel="apple-touch-icon" href="{root}assets/icon-180.png"' in text


def test_every_page_says_which_version_made_it(site):
    """A page that does not is never kept."""
    for file in site.rglob("index.html"):
        assert re.search(
            r'data-made-by="percell \d+\.\d+\.\d+, built \d{4}-\d\d-\d\d"', file.read_text("utf-8")
        ), file
