"""What a first view of a page loads, as the service sends it to a browser."""

import os
import shutil
from urllib.parse import urlsplit

import pytest

from percell.site_build import compress_ahead
from percell.web.app import create_app

# bytes, compressed, with the heads of the responses
MOST = 100_000
VIEWS = [
    "/",
    "/tables/",
    "/tables/lowest-resistance/",
    "/tables/current-by-power/",
    "/tables/lowest-resistance/25-a/2s2p/",
    "/learn/layouts/",
    "/something-happened/",
    "/glossary/",
    "/method/",
    "/ask/lowest-resistance",
]


@pytest.fixture(scope="module")
def served(site, serving, tmp_path_factory):
    """The site as ``percell site build`` leaves it, with what is compressed ahead."""
    folder = tmp_path_factory.mktemp("weights") / "site"
    shutil.copytree(site, folder, copy_function=os.link)
    compress_ahead(folder)
    with serving(create_app(folder)) as (host, port):
        yield folder, f"http://{host}:{port}"


@pytest.fixture
def view(browser, served):
    """Open a page as a new reader and return what it loaded: the bytes of each address."""

    def opened(path):
        # the copies for offline come after the view
        context = browser.new_context(service_workers="block")
        page = context.new_page()
        asked = []
        page.on("requestfinished", lambda request: asked.append(request))
        page.goto(served[1] + path, wait_until="networkidle")
        loaded = {}
        for request in asked:
            if urlsplit(request.url).scheme != "data":
                sizes = request.sizes()
                loaded[request.url] = sizes["responseBodySize"] + sizes["responseHeadersSize"]
        context.close()
        return loaded

    return opened


def test_a_first_view_is_light_and_all_from_one_host(view, served):
    """No more than 100 kB, compressed, for each kind of page, and nothing from a third party."""
    heavy, foreign = {}, []
    for path in VIEWS:
        loaded = view(path)
        assert len(loaded) > 1
        if sum(loaded.values()) > MOST:
            heavy[path] = loaded
        foreign += [url for url in loaded if not url.startswith(served[1] + "/")]
    assert not foreign
    assert not heavy


def test_every_page_is_light(view, served):
    """With what all pages load, no page of the site weighs more than 100 kB."""
    folder, address = served
    home = view("/")
    shared = sum(size for url, size in home.items() if url != f"{address}/")
    assert shared > 20_000
    heavy = {}
    for file in folder.rglob("index.html"):
        packed = [file.with_name(file.name + ending) for ending in (".br", ".gz", "")]
        size = next(one for one in packed if one.is_file()).stat().st_size
        # other pages load a style sheet of their own, and no script of the theme
        size += shared if "bundle." in file.read_text("utf-8") else 0
        if size > MOST:
            heavy[f"{file.parent.relative_to(folder).as_posix()}/"] = size
    assert not heavy
