"""The pages of rows and of their entries: light pages of our own template, because there are thousands."""

from itertools import groupby
from typing import Any, NamedTuple
from urllib.parse import urlencode

from jinja2 import Environment, PackageLoader, StrictUndefined

from percell_site import replies
from percell_site.figures import figures_of, on_page
from percell_site.words import listed

_JINJA = Environment(
    loader=PackageLoader("percell_site"),
    undefined=StrictUndefined,
    autoescape=True,
    trim_blocks=True,
    lstrip_blocks=True,
)
# a preview with more figures than this is read without what they hold for
_MOST_PREVIEWED = 3
# the order in which a page takes its colour from its figures
_GRAVEST = ("over_limit", "little_headroom", "not_judged", "within_limit")


class Site(NamedTuple):
    """What all pages have in common."""

    address: str  # where the pages will be, without a slash at its end
    date: str
    mark: str  # the sign of the site, as SVG


def row_pages(table: dict[str, Any], site: Site) -> dict[str, str]:
    """Return the page of each row of a printed table by its path, and of each entry if entries have pages."""
    table = on_page(table)
    own = _Own(table, site)
    made = {}
    for i, row in enumerate(table["rows"]):
        folder = own.folder(row)
        single = len(table["columns"]) == 1
        made[f"{folder}index.html"] = own.entry(i, 0, alone=True) if single else own.row(i)
        if table["entry_pages"]:
            for j, column in enumerate(table["columns"]):
                made[f"{folder}{column['anchor']}/index.html"] = own.entry(i, j)
    return made


class _Own:
    """The pages of one table."""

    def __init__(self, table: dict[str, Any], site: Site) -> None:
        self.table = table
        self.site = site
        self.template = _JINJA.get_template("plain.html.jinja")
        what = table["quantity"] or listed(shown["heading"] for shown in table["prints"])
        axes = [axis["heading"].lower() for axis in table["columns_by"]]
        self.what = what if len(table["columns"]) == 1 else f"{what}, by {listed(axes)}"

    def folder(self, row: dict[str, Any]) -> str:
        return f"tables/{self.table['id']}/{row['anchor']}/"

    def row(self, i: int) -> str:
        """Return the page of a row: its entries as a list."""
        table, row = self.table, self.table["rows"][i]
        name = self._row_name(row)
        path = self.folder(row)
        nested = len(table["columns_by"]) > 1
        entries = [
            {
                "anchor": column["anchor"],
                "group": replies.place(table, column, 0) if nested else "",
                "label": column["labels"][-1],
                "figures": figures_of(table, cell),
            }
            for column, cell in zip(table["columns"], row["cells"], strict=True)
        ]
        return self._page(
            path,
            title=name,
            preview=f"{name}: {table['title']}",
            description=" ".join(filter(None, [f"{name}. {self.what}.", table["conditions"]])),
            lede=table["sentence"],
            groups=[(group, [*those]) for group, those in groupby(entries, lambda e: e["group"])],
            headings=[shown["heading"] for shown in table["prints"]],
            axis=table["columns_by"][-1]["heading"],
            replies=[]
            if table["entry_pages"]
            else [
                (column["anchor"], self._reply(row, j, f"{path}#{column['anchor']}"))
                for j, column in enumerate(table["columns"])
            ],
            onward=[
                *self._rows_beside(i, "../{}/"),
                (f"../#{row['anchor']}", f"The whole table: {table['title']}"),
            ],
        )

    def entry(self, i: int, j: int, *, alone: bool = False) -> str:
        """Return the page of an entry: one figure, or a few; alone if its row has no other."""
        table, row = self.table, self.table["rows"][i]
        column = table["columns"][j]
        path = self.folder(row) if alone else f"{self.folder(row)}{column['anchor']}/"
        row_name = self._row_name(row)
        name = row_name if alone else f"{row_name}, {self._column_name(column)}"
        figures = figures_of(table, row["cells"][j])
        reply = self._reply(row, j, path)
        told = "; ".join(f"{one.heading.lower()} {one.said}" for one in figures)
        few = len(figures) <= _MOST_PREVIEWED
        up = "../" if alone else "../../"
        onward = self._rows_beside(i, "../{}/" if alone else f"../../{{}}/{column['anchor']}/")
        if not alone:
            for at, beside in ((j - 1, "Column before"), (j + 1, "Next column")):
                if 0 <= at < len(table["columns"]):
                    other = table["columns"][at]
                    said = f"{beside}: {self._column_name(other)}"
                    onward.append((f"../{other['anchor']}/", said))
            onward.append(("../", f"All columns of this row: {row_name}"))
        onward.append((f"{up}#{row['anchor']}", f"The whole table: {table['title']}"))
        return self._page(
            path,
            title=name,
            preview=f"{name}: {told if few else table['title']}",
            description=reply.rpartition(" ")[0],
            lede=replies.sentence(table["reading"], table, row, j),
            figures=figures,
            few=few,
            what=self.what,
            look=min(figures, key=lambda one: _rank(one.verdict)).look,
            crumb=None if alone else (row_name, self._column_name(column)),
            replies=[("reply", reply)],
            asked=self._asked(row, column),
            onward=onward,
        )

    def _page(self, path: str, **values: Any) -> str:
        depth = path.count("/")
        crumb = values.pop("crumb", None)
        table = self.table
        crumbs = [("../" * (depth - 1), "Tables"), ("../" * (depth - 2), table["title"])]
        if crumb:
            crumbs.append(("../", crumb[0]))
        return self.template.render(
            {
                "figures": None,
                "groups": None,
                "asked": "",
                "look": "",
                "headings": [],
                "axis": "",
                "what": "",
                "few": True,
            }
            | values
            | {
                "table": table,
                "version": table["version"],
                "site": self.site,
                "path": path,
                "root": "../" * depth,
                "crumbs": crumbs,
                "here": crumb[1] if crumb else values["title"],
            }
        )

    def _rows_beside(self, i: int, there: str) -> list[tuple[str, str]]:
        rows = self.table["rows"]
        return [
            (there.format(rows[at]["anchor"]), f"{beside}: {self._row_name(rows[at])}")
            for at, beside in ((i - 1, "Row above"), (i + 1, "Row below"))
            if 0 <= at < len(rows)
        ]

    def _asked(self, row: dict[str, Any], column: dict[str, Any]) -> str:
        """Return where the service answers this entry, with a form in which its numbers can be changed."""
        table = self.table
        fields = [axis["field"] for axis in [table["rows_by"], *table["columns_by"]]]
        varied = zip(fields, [row["value"], *column["values"]], strict=True)
        given = table["fixed"] | dict(varied)
        typed = {n: v if isinstance(v, str) else f"{v:g}" for n, v in given.items()}
        return f"/ask/{table['question']}?{urlencode(typed)}"

    def _row_name(self, row: dict[str, Any]) -> str:
        return f"{self.table['rows_by']['heading']} {row['label']}"

    def _column_name(self, column: dict[str, Any]) -> str:
        axes = range(len(self.table["columns_by"]))
        return ", ".join(replies.place(self.table, column, level) for level in axes)

    def _reply(self, row: dict[str, Any], j: int, path: str) -> str:
        return replies.brief(self.table, row, j, f"{self.site.address}/{path}")


def _rank(verdict: str) -> int:
    return _GRAVEST.index(verdict) if verdict else len(_GRAVEST)
