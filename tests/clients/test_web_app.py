"""The web app, in Node and in a browser that has it from another origin than the API."""

import functools
import http.server
import json
import shutil
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

APP = Path(__file__).with_name("web_app")
# without these the browser contacts its vendor's hosts at every start
QUIET = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
]


@pytest.fixture(scope="module")
def built(
    running: Any,
    run: Callable[..., str],
    node_modules: Path,
    tmp_path_factory: pytest.TempPathFactory,
) -> Path:
    """Compile the app against types made from the served document, as strictly as the compiler can."""
    folder = tmp_path_factory.mktemp("web") / "app"
    shutil.copytree(APP, folder)
    (folder / "node_modules").symlink_to(node_modules)
    document = f"{running.address}/openapi.json"
    run("npx", "openapi-typescript", document, "-o", "percell.d.ts", cwd=folder)
    strictly = ("--strict", "--target", "es2022", "--module", "nodenext")
    run("npx", "tsc", *strictly, "app.mts", "page.mts", cwd=folder)
    return folder


@pytest.fixture
def compare(api: Any, built: Path, run: Callable[..., str]) -> Callable[..., dict[str, Any]]:
    """Return a way to fill the form and send it, in Node."""

    def send(**form: Any) -> dict[str, Any]:
        program = f"""
            import {{ compare }} from "./app.mjs";
            const shown = await compare({json.dumps(api.address)}, {json.dumps(form)});
            console.log(JSON.stringify({{ ...shown, errors: Object.fromEntries(shown.errors) }}));
        """
        found: dict[str, Any] = json.loads(
            run("node", "--input-type=module", "--eval", program, cwd=built)
        )
        return found

    return send


def test_it_compares_layouts(compare: Callable[..., dict[str, Any]]) -> None:
    """One line a layout, with the headline, the colour of its gravest word, and the cautions once."""
    shown = compare(layouts=["1S1P", "1S2P", "2S2P"], cell_rating_a=20, coil_reading_ohm=0.25)
    assert [line["colour"] for line in shown["lines"]] == ["amber", "blue", "red"]
    for line in shown["lines"]:
        assert f"{line['layout']} with cells rated 20 A" in line["headline"]
        assert line["figure"].endswith("A from the pack, no sag")
    assert len(shown["cautions"]) > 5
    assert shown["errors"] == {}
    assert shown["version"]
    assert shown["requestId"]


def test_it_tells_two_kinds_of_answer_apart(compare: Callable[..., dict[str, Any]]) -> None:
    """The same form with a power asks another question, and shows that answer's own figure."""
    shown = compare(layouts=["1S1P", "2S1P"], cell_rating_a=20, output_power_w=60)
    assert [line["colour"] for line in shown["lines"]] == ["red", "blue"]
    for line in shown["lines"]:
        assert line["figure"].endswith("A in the worst-case cell")


def test_errors_land_on_their_fields(compare: Callable[..., dict[str, Any]]) -> None:
    """Each fault of each layout is beside its field, and the layouts without a fault are still answered."""
    shown = compare(layouts=["1S1P", "9X"], cell_rating_a=20, coil_reading_ohm=0.5)
    assert [line["layout"] for line in shown["lines"]] == ["1S1P"]
    assert list(shown["errors"]) == ["layout"]
    shown = compare(layouts=["9X"], cell_rating_a=-1, coil_reading_ohm=None)
    assert set(shown["errors"]) == {"layout", "cell_rating_a", "coil_reading_ohm"}
    assert shown["lines"] == []
    shown = compare(layouts=["1S1P"], coil_reading_ohm=0.5)
    assert shown["errors"] == {"cell_rating_a": ["This field is required."]}


@pytest.mark.parametrize("member", ["attention", "verdict"])
def test_a_word_from_later_is_red(
    api: Any, compare: Callable[..., dict[str, Any]], member: str
) -> None:
    """A word that the app does not know gets the colour of the worst."""
    word = {"attention": "note", "verdict": "within_limit"}[member]
    api.later = {f'"{member}":"{word}"'.encode(): f'"{member}":"one_from_later"'.encode()}
    shown = compare(layouts=["1S1P"], cell_rating_a=20, coil_reading_ohm=0.5)
    assert shown["lines"][0]["colour"] == "red"


def test_no_answer_is_no_permission(api: Any, compare: Callable[..., dict[str, Any]]) -> None:
    """While the service is away the app says so, and shows no line."""
    api.away = 1
    shown = compare(layouts=["1S1P"], cell_rating_a=20, coil_reading_ohm=0.5)
    assert shown["errors"] == {"": ["No answer (503). This is not permission."]}
    assert shown["lines"] == []


class Quiet(http.server.SimpleHTTPRequestHandler):
    """A web server that writes no log."""

    def log_message(self, *_: Any) -> None:
        pass


@pytest.fixture(scope="module")
def page(built: Path, running: Any, tool: Callable[[str], str]) -> Iterator[Any]:
    """Open the app in a browser, from an origin of its own."""
    chromium = tool("chromium")
    from playwright.sync_api import sync_playwright

    handler = functools.partial(Quiet, directory=built)
    with (
        http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler) as server,
        sync_playwright() as p,
    ):
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        browser = p.chromium.launch(executable_path=chromium, args=QUIET)
        opened = browser.new_page()
        opened.goto(f"http://localhost:{server.server_port}/?api={running.address}")
        yield opened
        browser.close()
        server.shutdown()
        thread.join()


def fill(page: Any, **fields: str) -> None:
    """Fill the form, send it, and wait for what it shows."""
    for name in ("layout", "cell_rating_a", "coil_reading_ohm", "output_power_w"):
        page.fill(f"#{name}", fields.get(name, ""))
    page.click("button")
    page.wait_for_selector("form[data-done]")


def test_a_browser_shows_answers_from_another_origin(api: Any, page: Any) -> None:
    """A POST of JSON with a header of tracing passes the browser's questions, and the request id can be read."""
    api.methods.clear()
    fill(page, layout="1S2P, 2S2P", cell_rating_a="20", coil_reading_ohm="0.25")
    assert set(api.methods) == {"OPTIONS", "POST"}
    answers = page.locator("#answers li")
    assert [item.get_attribute("class") for item in answers.all()] == ["blue", "red"]
    assert "Over the limit: continuous rating" in answers.nth(1).inner_text()
    assert page.locator("#cautions li").count() > 5
    assert page.locator("#request li").inner_text()


def test_a_browser_shows_faults_beside_their_fields(page: Any) -> None:
    """What is no number, and what is out of bounds, is told beside its own field and not elsewhere."""
    fill(page, layout="1S1P", cell_rating_a="-1", coil_reading_ohm="a little")
    beside = {
        name: page.locator(f"output[for={name}]").inner_text()
        for name in ("layout", "cell_rating_a", "coil_reading_ohm", "output_power_w")
    }
    assert {name for name, said in beside.items() if said} == {"cell_rating_a", "coil_reading_ohm"}
    assert beside["cell_rating_a"] == "It must be 0.1 A or more."
    assert page.locator("#elsewhere li").count() == 0
    assert page.locator("#answers li").count() == 0
