"""Every page, read by axe: WCAG 2.2 AA and good practice, at three widths, in both colour schemes."""

import pytest

ASKED = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    "rules": {"target-size": {"enabled": True}},  # of WCAG 2.2, and off unless asked for
    "resultTypes": ["violations"],
    "preload": False,
}
# the other scheme has the same page in other colours
ASKED_OF_COLOURS = ASKED | {"runOnly": ["color-contrast", "link-in-text-block"]}
# what the page does when it is resized comes before the next frame but one
FINDINGS = """async asked => {
    for (let frame = 0; frame < 2; frame++) await new Promise(requestAnimationFrame);
    const run = await axe.run(asked);
    return [
        run.passes.length,
        run.violations.flatMap(one => one.nodes.map(node => `${one.id}: ${node.html.slice(0, 200)}`)),
    ];
}"""
SETTINGS = [(width, scheme) for width in (1280, 360, 320) for scheme in ("light", "dark")]


@pytest.fixture
def findings(browser, address, npm_file):
    """A function that opens pages one after the other and returns what axe finds on them, with where."""
    axe = npm_file("axe-core", "axe.min.js").read_text("utf-8")
    context = browser.new_context(bypass_csp=True, reduced_motion="reduce", service_workers="block")

    def read(paths):
        page = context.new_page()
        found = {}
        for path in paths:
            page.goto(address + path, wait_until="load")
            page.evaluate(axe)
            # what is folded away is read too
            page.evaluate("document.querySelectorAll('details').forEach(e => { e.open = true })")
            for width, scheme in SETTINGS:
                page.set_viewport_size({"width": width, "height": 800})
                page.emulate_media(color_scheme=scheme)
                asked = ASKED if scheme == "light" else ASKED_OF_COLOURS
                passed, wrong = page.evaluate(FINDINGS, asked)
                assert passed > (10 if scheme == "light" else 0), path
                for one in wrong:
                    found.setdefault(f"{path} {one}", []).append((width, scheme))
        return found

    yield read
    context.close()


def test_everybody_can_read_every_page_but_those_of_rows(findings, page_addresses):
    """Axe finds nothing, and that includes the page for an address that is not there."""
    assert findings(page_addresses) == {}


def test_everybody_can_read_the_page_of_a_row(findings, row_addresses):
    """Axe finds nothing on the first page of a row of each table, nor on its deepest, that of a cell."""
    deepest = [max(paths, key=lambda path: path.count("/")) for paths in row_addresses.values()]
    first = [paths[0] for paths in row_addresses.values()]
    assert findings(sorted({*first, *deepest})) == {}


def test_everybody_can_ask_and_read_the_answer(findings, asked_addresses):
    """Axe finds nothing on the forms, on answers, and where something is wrong."""
    assert findings(asked_addresses) == {}
