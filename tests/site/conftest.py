"""The site, built once for all tests of this folder, and the browser that reads it."""

import json
import os
import re
import subprocess
from pathlib import Path
from typing import NamedTuple

import httpx
import pytest

from percell.web.app import create_app
from percell_site.api import connect
from percell_site.plugin import build

SOURCE = Path(__file__).parents[2] / "site"
KIT = Path(__file__).parents[2] / "openapi" / "conformance.jsonl"

# without these the browser contacts its vendor's hosts at every start
QUIET = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture(scope="module")
def api():
    """The API in this process, as a build asks it."""
    connected = connect("percell.web.asgi:app")
    yield connected
    connected.close()


@pytest.fixture(scope="session")
def site(tmp_path_factory):
    """A strict build with the API in this process; a warning would have ended it."""
    out = tmp_path_factory.mktemp("site") / "public"
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SOURCE_DATE_EPOCH", "1790000000")
        build(source=SOURCE, out=out, api=None)
    return out


@pytest.fixture(scope="session")
def row_addresses(site):
    """The addresses of the pages of single rows, and of single cells, by table."""
    found = {}
    for file in sorted(site.glob("tables/*/*/**/index.html")):
        path = file.parent.relative_to(site)
        found.setdefault(path.parts[1], []).append(f"/{path.as_posix()}/")
    return found


@pytest.fixture(scope="session")
def page_addresses(site, row_addresses):
    """The address of every other page, and one of none."""
    rows = {row for rows in row_addresses.values() for row in rows}
    files = sorted(site.rglob("index.html"))
    paths = [f"/{file.parent.relative_to(site).as_posix()}/".replace("/./", "/") for file in files]
    assert len(paths) > 60
    return [*(path for path in paths if path not in rows), "/no-such-page"]


@pytest.fixture(scope="session")
def address(site, serving):
    """API and site on one loopback address."""
    with serving(create_app(site)) as (host, port):
        yield f"http://{host}:{port}"


@pytest.fixture(scope="session")
def asked_addresses(address):
    """The list of forms, each form empty, answered as in the kit of examples, and with a value that is none."""
    listed = re.findall('href="/ask/([a-z-]+)"', httpx.get(f"{address}/ask/").text)
    assert len(listed) > 20
    kit = [json.loads(line) for line in KIT.read_text("utf-8").splitlines()]
    gets = [one["path"] for one in kit if one.get("id", "").startswith("GET /v1/")]
    queries = dict(path.removeprefix("/v1/").split("?") for path in gets if "?" in path)
    queries["bench-card"] = "cell_rating_a=60&cell_capacity_ah=3&cell_size=18650"
    found = ["/ask/", "/ask/no-such-question"]
    for question in listed:
        found.append(f"/ask/{question}")
        if query := queries.get(question):
            wrong = re.sub(r"=[\d.]+", "=many", query, count=1)
            found += [f"/ask/{question}?{query}", f"/ask/{question}?{wrong}"]
    return found


class Fonts(NamedTuple):
    """What a reader's machine has for each generic family of CSS."""

    serif: str
    sans_serif: str
    monospace: str


# two machines between which most readers' lie; Debian has them in fonts-liberation and fonts-dejavu-core
FONTS = {
    "narrow": Fonts("Liberation Serif", "Liberation Sans", "Liberation Mono"),
    "wide": Fonts("DejaVu Serif", "DejaVu Sans", "DejaVu Sans Mono"),
}


def fontconfig(fonts):
    """A configuration in which these fonts are all that there is."""
    generic = "".join(
        f'<alias binding="strong"><family>{name.replace("_", "-")}</family>'
        f"<prefer><family>{font}</family></prefer></alias>"
        for name, font in fonts._asdict().items()
    )
    only = "".join(
        f'<pattern><patelt name="family"><string>{font}</string></patelt></pattern>'
        for font in fonts
    )
    return (
        '<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "urn:fontconfig:fonts.dtd">'
        f"<fontconfig><include>/etc/fonts/fonts.conf</include>{generic}<selectfont>"
        f"<rejectfont><pattern/></rejectfont><acceptfont>{only}</acceptfont>"
        "</selectfont></fontconfig>"
    )


@pytest.fixture(scope="session")
def reader_environment(tool, missing, tmp_path_factory):
    """A function that returns the environment of a browser that has one of the two sets of fonts, and no other."""
    listing = tool("fc-list")

    def environment(name):
        config = tmp_path_factory.mktemp("fonts") / "fonts.conf"
        config.write_text(fontconfig(FONTS[name]))
        env = os.environ | {"FONTCONFIG_FILE": str(config)}
        found = subprocess.run(
            [listing, ":", "family"], env=env, capture_output=True, text=True, check=True
        ).stdout
        for font in FONTS[name]:
            if font not in found.splitlines():
                missing(f"the font {font}")
        return env

    return environment


# a module's own: while its driver is there, nothing else in this thread can run an event loop
@pytest.fixture(scope="module")
def browser_with(tool, reader_environment):
    """Chromium, driven, on a machine that has one of the two sets of fonts and no other."""
    chromium = tool("chromium")
    from playwright.sync_api import sync_playwright

    browsers = {}

    def launched(name):
        if name not in browsers:
            browsers[name] = driver.chromium.launch(
                executable_path=chromium, args=QUIET, env=reader_environment(name)
            )
        return browsers[name]

    with sync_playwright() as driver:
        yield launched
        for browser in browsers.values():
            browser.close()


@pytest.fixture
def fonts():
    """The fonts of the reader, where a test does not say otherwise."""
    return "wide"


@pytest.fixture
def browser(browser_with, fonts):
    """The browser of a reader with some fonts."""
    return browser_with(fonts)


@pytest.fixture
def open_page(browser, address):
    """Open a page, and record its requests and its errors."""
    contexts = []

    def opened(path, **settings):
        # the script that keeps pages for later would fetch some beside every test
        context = browser.new_context(**{"service_workers": "block"} | settings)
        contexts.append(context)
        page = context.new_page()
        page.asked = []
        page.faults = []
        page.on("request", lambda request: page.asked.append(request.url))
        page.on("pageerror", lambda error: page.faults.append(str(error)))
        page.on(
            "console",
            lambda said: page.faults.append(said.text) if said.type == "error" else None,
        )
        page.goto(address + path, wait_until="load")
        return page

    yield opened
    for context in contexts:
        context.close()


@pytest.fixture(scope="session")
def fonts_of_readers():
    """The sets of fonts by name."""
    return FONTS


@pytest.fixture(scope="session")
def npm_file(missing):
    """A function that returns the path of a file in a package of npm's."""

    def find(package, *names):
        path = Path(os.environ.get("PERCELL_NODE_MODULES", "node_modules"), package, *names)
        if not path.is_file():
            missing(f"the npm package {package}")
        return path.resolve()

    return find
