"""Short forms on tables and on the front page: the few fields that decide, sent to the page of the question.

They are plain HTML. Labels, units and words are those of the API's document and its catalogues.
"""

import re
from html import escape
from typing import Any, NamedTuple

from percell_site.form_fields import (
    Choice,
    FormField,
    asked_schema,
    choices_of,
    form_field,
    resolved,
)
from percell_site.pages import render

_TO_FORMS = re.compile(r'(href|action)="(?=/ask/)')


def sent_to(api_url: str, page: str) -> str:
    """Return a page whose links and forms to the pages of the service go to its address; none is the same host."""
    return _TO_FORMS.sub(rf'\1="{escape(api_url)}', page) if api_url else page


class Forms(NamedTuple):
    """What short forms are made from.

    Attributes:
        document: The API's document.
        start: The first page of the API.
        layouts: The usual layouts with their words.
        api_url: Where the service is, without a slash at its end; empty if it is beside the site.
    """

    document: dict[str, Any]
    start: dict[str, Any]
    layouts: list[dict[str, str]]
    api_url: str

    def of_table(self, table: dict[str, Any]) -> str:
        """Return the form of a table: what its question needs, and what its rows and columns vary."""
        axes = {axis["field"]: axis for axis in [table["rows_by"], *table["columns_by"]]}
        operation = self.document["paths"][f"/v1/{table['question']}"]["post"]
        # what the table fixes of several fields that would do, such as the size of the cell
        fixed = [
            name
            for choice in choices_of(asked_schema(operation, self.document))
            if not choice & axes.keys()
            for name in table["fixed"]
            if name in choice
        ]
        return self.form(table["question"], *axes, *fixed, axes=axes)

    def form(
        self, question: str, *fields: str, axes: dict[str, dict[str, Any]] | None = None
    ) -> str:
        """Return the form of a question with the fields that it needs and some others."""
        entries = [entry for group in self.start["groups"] for entry in group["questions"]]
        entry = next(entry for entry in entries if entry["question"] == question)
        get = self.document["paths"][entry["path"]]["get"]
        parameters = [resolved(one, self.document) for one in get["parameters"]]
        known = {one["name"]: form_field(one, {}, self.document) for one in parameters}
        needed = [field.name for field in known.values() if field.required]
        shown = [known[name] for name in dict.fromkeys((*needed, *fields))]
        page = render(
            "short_form.html.jinja",
            ask=entry["ask"],
            api_url=self.api_url,
            title=entry["people_ask"],
            question=question,
            fields=[self._worded(field, (axes or {}).get(field.name, {})) for field in shown],
        )
        # a block of HTML ends at an empty line, and a line that begins with spaces is code
        return " ".join(line.strip() for line in page.splitlines() if line.strip())

    def _worded(self, field: FormField, axis: dict[str, Any]) -> FormField:
        """Return a field with words to choose from: of the layouts, or as its table has them."""
        if field.name == "layout":
            usual = [
                Choice(one["layout"], f"{one['label']} ({one['layout']})") for one in self.layouts
            ]
            return field._replace(label="Wiring", choices=usual)
        if field.choices and axis.get("labels"):
            words = zip(axis["values"], axis["labels"], strict=True)
            return field._replace(choices=[Choice(str(value), text) for value, text in words])
        return field
