"""Everything that the API adds to the prose: whole pages and files, and the content of markers."""

import json
import re
from collections.abc import Callable
from functools import cached_property
from typing import Any

from percell_site import (
    booklet,
    cards,
    cells,
    changelog,
    chemistries,
    compared,
    diagrams,
    examples,
    pages,
    quoted,
    rows,
    snippet,
    which_cells,
)
from percell_site.api import Api, ApiError
from percell_site.changelog import History
from percell_site.profiles import Profile
from percell_site.short_form import Forms
from percell_site.try_page import try_page

# what a browser keeps for a reader without network from the first visit on, besides the page opened
_AHEAD = ["", "something-happened/", "cautions/", "tables/", "contents/"]
_MARKER = re.compile(r"\{\{ ([\w-]+): ([^{}]+?) \}\}")
# the kind of a marker that waits for the HTML, and what it has become there
_FORM = "ask"
_WAITING = re.compile(rf"(<p>)?\{{\{{ {_FORM}: ([^{{}}]+?) \}}\}}(?(1)</p>)")


class Book:
    """The generated part of the site. One API answers for all of it.

    The pages print ``address``, without a slash at its end, as where the API and the site are. Forms send their
    readers to ``api_url``, or to the host of the page if it is empty.
    """

    def __init__(
        self,
        api: Api,
        address: str,
        date: str,
        profiles: list[Profile],
        past: History,
        mark: str = "",
        api_url: str = "",
        first_lines: str = "",
    ) -> None:
        self.api = api
        self.address = address
        self.date = date
        self.profiles = profiles
        self.past = past
        self.mark = mark
        self._row_pages: list[str] = []
        # every printed table, in the order of the list, once the files are made
        self.tables: list[dict[str, Any]] = []
        self.api_url = api_url
        self.first_lines = first_lines

    @cached_property
    def reference(self) -> dict[str, Any]:
        """The API's catalogues: rules, cautions, chemistries, problem types."""
        reference: dict[str, Any] = self.api.get_json("/v1/reference")
        return reference

    @cached_property
    def start(self) -> dict[str, Any]:
        """The API's list of its questions, by subject."""
        start: dict[str, Any] = self.api.get_json("/v1")
        return start

    @property
    def questions(self) -> list[dict[str, Any]]:
        """Every question of the API, with the paths where it is answered."""
        return [one for group in self.start["groups"] for one in group["questions"]]

    @cached_property
    def forms(self) -> Forms:
        """What the short forms are made from."""
        return Forms(
            self.api.get_json("/openapi.json"), self.start, self.reference["layouts"], self.api_url
        )

    def files(self) -> dict[str, str | bytes]:
        """Return every generated file by its path below the docs folder."""
        entries = self.api.get_json("/v1/tables")["tables"]
        made: dict[str, str | bytes] = {
            "docs/api.md": try_page(self.forms.document, self.forms.start, self.address),
            "reference.json": json.dumps(self.reference, ensure_ascii=False),
            "robots.txt": self._robots(),
            **{path: cards.icon(size) for path, size in cards.ICONS.items()},
            "sw.js": pages.render(
                "sw.js.jinja",
                version=self.reference["version"],
                ahead=_AHEAD,
                first_lines=self.first_lines,
            ),
            "rules.md": pages.rules_page(self.reference["rules"]),
            "problems/index.md": pages.render(
                "problems.md.jinja", problems=self.reference["problems"]
            ),
        }
        for problem in self.reference["problems"]:
            made[f"problems/{problem['id']}.md"] = pages.render("problem.md.jinja", problem=problem)
        wholes = [self.api.get(entry["json"]) for entry in entries]
        self.tables = [json.loads(whole) for whole in wholes]
        made["tables/index.md"] = pages.tables_page(self.tables)
        wirings = {one["layout"]: one["label"] for one in self.reference["layouts"]}
        site = rows.Site(self.address, self.date, self.mark)
        for entry, whole, table in zip(entries, wholes, self.tables, strict=True):
            name = f"tables/{entry['id']}"
            form = self.forms.of_table(table)
            made[f"{name}.md"] = pages.table_page(table, self.date, entries, wirings, form)
            made[f"{name}.png"] = cards.card(table)
            made[f"{name}.json"] = whole
            made[f"{name}.csv"] = self.api.get(entry["csv"])
            pages_of_rows = rows.row_pages(table, site)
            self._row_pages += pages_of_rows
            made |= pages_of_rows
        made[booklet.PATH] = booklet.booklet(self.tables, self.reference["cautions"], site)
        made |= changelog.files(self.past, self.tables, self.address, self.date)
        return made | cells.cell_pages(self.api, self.profiles, self.reference, self.date)

    def row_addresses(self) -> str:
        """Return the pages of rows and of their entries as a map of a site lists them."""
        return "".join(
            f"<url><loc>{self.address}/{path.removesuffix('index.html')}</loc>"
            f"<lastmod>{self.date}</lastmod></url>\n"
            for path in self._row_pages
        )

    def _robots(self) -> str:
        """Return what search engines may read (RFC 9309): the pages, and no answers."""
        return f"User-agent: *\nDisallow: /v1/\nDisallow: /ask/\n\nSitemap: {self.address}/sitemap.xml\n"

    def filled(self, markdown: str, url: str) -> str:
        """Return the prose of a page with the content of each marker, such as ``{{ diagram: 2s2p-direct }}``.

        The page's address below the top of the site, such as ``learn/heat/``, says how its links begin.
        """
        up = "../" * url.removeprefix("./").count("/")

        def put(found: re.Match[str]) -> str:
            kind, name = found.groups()
            if kind == _FORM:
                return found[0]
            if kind not in makers:
                raise ApiError(f"no marker is called {kind!r}")
            return makers[kind](name)

        makers: dict[str, Callable[[str], str]] = {
            "address": lambda path: self.address + path,
            "chemistries": lambda name: chemistries.text(self.reference, name),
            "compared": lambda name: compared.text(self.reference, name),
            "diagram": lambda name: diagrams.diagram(self.api, name),
            "example": lambda question: examples.example(self.api, self.address, question),
            "figure": lambda place: quoted.table_figure(self.api, place),
            "linked": lambda place: quoted.linked_figure(self.api, place, up),
            "question": self._heading,
            "needed": lambda load: which_cells.needed(self.api, load, up),
            "reply": lambda query: quoted.reply(self.api, self.address, query),
            "snippet": lambda place: snippet.snippet(self.api, self.address, place),
        }
        return _MARKER.sub(put, markdown)

    def with_forms(self, page: str) -> str:
        """Return a page with its short forms, each in place of a marker such as ``{{ ask: pack }}``.

        They are put into HTML, because Markdown takes the parts of a form apart. A marker that stands alone has
        become a paragraph, and none may hold a form.
        """
        return _WAITING.sub(lambda found: self.forms.form(*found[2].split()), page)

    def _heading(self, question_id: str) -> str:
        """Return the title of a question, with the name that its answers link to."""
        for question in self.reference["questions"]:
            if question["id"] == question_id:
                return f"{question['title']} {{ #{question_id} }}"
        raise ApiError(f"no question is called {question_id!r}")
