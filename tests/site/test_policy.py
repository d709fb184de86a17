"""No page runs a script that is not its own (Content Security Policy)."""

import re

import pytest

from percell.web.app import create_app
from percell_site import policy

KINDS = [
    "/",
    "/contents/",
    "/tables/",
    "/tables/lowest-resistance/",
    "/tables/current-by-power/",
    "/cells/bench-1/",
    "/learn/layouts/",
    "/learn/measuring/",
    "/how-right/",
    "/docs/api/",
    "/problems/",
    "/rules/",
    "/no-such-page",
]
# outside the theme
PLAIN = [
    "/tables/lowest-resistance/25-a/",
    "/tables/lowest-resistance/25-a/2s2p/",
    "/ask/",
    "/ask/lowest-resistance?layout=2S2P&cell_rating_a=25",
]
RECORD = """
    globalThis.violations = [];
    document.addEventListener('securitypolicyviolation', event => {
        violations.push(`${event.violatedDirective} ${event.blockedURI} ${event.sample} ${event.sourceFile}`);
    });
"""
INJECTED = (
    "<script>globalThis.injected = true</script><img src=x onerror='globalThis.injected = true'>"
)


@pytest.fixture
def page(browser):
    """A page that records what a policy forbids."""
    context = browser.new_context(service_workers="block")
    context.add_init_script(RECORD)
    yield context.new_page()
    context.close()


def test_no_page_breaks_its_own_policy(page, address):
    """On each kind of page, and when its search is used, nothing is forbidden that the page needs."""
    for path in KINDS + PLAIN:
        page.goto(address + path, wait_until="load")
        assert "no-js" not in page.evaluate("document.documentElement.className"), path
        assert page.evaluate("violations") == [], path
        assert page.evaluate("document.styleSheets.length") > 0, path
    page.goto(address, wait_until="load")
    page.get_by_role("button", name="Search").click()
    page.get_by_role("textbox", name="Search").fill("layout")
    page.locator("#pc-search li").first.wait_for()
    assert page.evaluate("violations") == []


@pytest.mark.parametrize("kept", ["header and meta", "meta alone", "header alone"])
def test_a_script_put_into_a_page_does_not_run(page, address, kept):
    """Neither an element nor a handler, also where only one of the two forms of the policy arrives."""

    def changed(route):
        response = route.fetch()
        headers = dict(response.headers)
        text = response.text()
        if kept == "meta alone":
            del headers["content-security-policy"]
        if kept == "header alone":
            text = re.sub("<meta http-equiv[^>]*>", "", text)
        route.fulfill(
            response=response, headers=headers, body=text.replace("</main>", INJECTED + "</main>")
        )

    page.route("**/tables/", changed)
    page.goto(f"{address}/tables/", wait_until="load")
    assert page.locator("img[src=x]").count() == 1
    assert page.evaluate("globalThis.injected") is None
    assert page.evaluate("violations.length") >= 2


def test_the_page_shown_while_the_site_is_built_keeps_to_the_policy(page, serving, tmp_path):
    """It needs no script, and may run none."""
    with serving(create_app(tmp_path / "later")) as (host, port):
        response = page.goto(f"http://{host}:{port}/")
        assert page.evaluate("violations") == []
        assert "unsafe-inline" not in response.headers["content-security-policy"].replace(
            "style-src 'self' 'unsafe-inline'", ""
        )


def test_every_page_names_its_policy(site):
    """The service's header and each page's own list know every inline script, and nothing is let through by name."""
    sent = (site / policy.FILE).read_text("utf-8")
    for file in site.rglob("*.html"):
        text = file.read_text("utf-8")
        named = re.search(
            '<meta charset="utf-8"><meta http-equiv="Content-Security-Policy" content="([^"]+)">',
            text,
        )
        assert named, file
        assert "unsafe-inline" not in named[1], file
        for one in policy.scripts(text):
            assert one in named[1], file
            assert one in sent, file
    assert "'unsafe-inline'" not in sent.partition("script-src")[2].partition(";")[0]
    assert len(re.findall("sha256-", sent)) == 3


@pytest.mark.parametrize(
    ("page_text", "directive"),
    [
        # the hash of "1", by openssl
        (
            "<script>1</script>",
            "script-src 'self' 'sha256-a4ayc/80/OGda4BO/1o/V0etpOqiLx1JwB5S3beHW0s='",
        ),
        ('<script src="a.js"></script>', "script-src 'self';"),
        ('<script id="a" type="application/json">1</script>', "script-src 'self';"),
        (
            '<p style="1">',
            "style-src 'self' 'sha256-a4ayc/80/OGda4BO/1o/V0etpOqiLx1JwB5S3beHW0s=' 'unsafe-hashes'",
        ),
        (
            "<style>1</style>",
            "style-src 'self' 'sha256-a4ayc/80/OGda4BO/1o/V0etpOqiLx1JwB5S3beHW0s=';",
        ),
    ],
)
def test_a_page_lists_the_hashes_of_its_own_parts(page_text, directive):
    """Inline scripts, style elements and style attributes, and no data or file."""
    assert directive in policy.guarded('<meta charset="utf-8">' + page_text)
