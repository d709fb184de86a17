"""The fields of a form, from the description of a query in the API's document."""

import re
from collections.abc import Collection, Iterable, Mapping, Set
from functools import cache
from math import inf
from typing import Any, NamedTuple, Protocol, get_args, get_type_hints

from msgspec import Struct

from percell.questions.bench.discharge_logs import DischargeLimits
from percell.questions.vocabulary.fields import DEFAULT
from percell.questions.vocabulary.labels import full_label, label_of, lowered
from percell.questions.vocabulary.layout import USUAL, wiring
from percell.questions.vocabulary.phrases import choice_in_words
from percell.questions.vocabulary.presence import presence_in_words
from percell.web.ask_pages.pictures import picture
from percell.web.ask_pages.words import FORMS
from percell.web.call import TARGET_LIMIT
from percell.web.describe_question import parameters_of
from percell.web.faults import forms_of
from percell.web.log_names import GivenColumns
from percell.web.query import Names, names_of
from percell.web.schemas import schemas_of

# letters of a value that is typed into a list, with what stands around it in an address
_TYPED = 8
# bytes that the fields outside of the list may take of an address
_OTHERS = 2048
# as instruments show them
_SHOWN = {"cell_capacity_ah": "mAh", "cell_resistance_ohm": "mΩ"}
# people say longer times in minutes
_LONG_S = 600
# what a description says of JSON: a form has a field for it
_FOR_PROGRAMS = re.compile(r"[^.]*\bobject\b[^.]*\.")
# the values in the first sentence of a description, and a name in it: marked as code, or before what it means
_LISTED = re.compile(r"^([^:.]+): .*(?=\.)")
# an entry of a list has no pictures, so it has no words for them either
_WRITE_LAYOUT = (
    "Cells in series, S, and cells in parallel in each group, P: 2S1P is two cells in series."
)
_NAME = re.compile(r"`(\w+)`|(?<=\. )(\w+)(?=: )")


class Choice(NamedTuple):
    """One value to choose."""

    value: str
    text: str
    picture: str = ""


class Field(NamedTuple):
    """One field of a form."""

    name: str
    label: str
    kind: str  # number, whole, text, choice, layout, or list: numbers, one below the other
    unit: str
    needed: bool
    hint: str
    default: str
    choices: tuple[Choice, ...]
    bounds: tuple[float, float] = (-inf, inf)
    # in which entry of a list it stands, from 0
    row: int | None = None

    @property
    def id(self) -> str:
        """Return its id in the page."""
        return place_of(self.name, self.row)

    @property
    def reads(self) -> str:
        """Return the unit in which a value is read: 1 for a ratio, nothing for a count."""
        return self.unit or ("1" if self.kind == "number" else "")

    @property
    def in_place(self) -> str:
        """Return what stands in a choice where nothing is chosen: the default, if it is one of the words."""
        known = self.default in {one.text for one in self.choices}
        return f"{self.default} (default)" if known else "not given"


class Rows(NamedTuple):
    """The fields of a list of things, such as cells: the same for each of them."""

    name: str
    label: str
    one: str  # what a single one is called
    needed: bool
    most: int  # as far as an address has room
    most_asked: int  # as many as the API takes
    first: list[Field]
    further: list[Field]

    @property
    def kind(self) -> str:
        """Return the kind that the templates know it by."""
        return "rows"

    @property
    def id(self) -> str:
        """Return its id in the page."""
        return place_of(self.name)

    @property
    def pasted(self) -> str:
        """Return the name of the field that takes them all, one a line. No field of the API has a hyphen."""
        return f"pasted-{self.name}"

    @property
    def titles(self) -> str:
        """Return a line that names the columns of a list, with units as instruments show them."""
        units = [one.unit for one in self.first]
        return "; ".join(
            _SHOWN.get(one.name.partition(".")[2], one.unit)
            if one.unit and units.count(one.unit) == 1
            else lowered(one.label)
            for one in self.first
        )

    @property
    def how_to_paste(self) -> str:
        """Return how a list of them is written."""
        order = ", ".join(
            lowered(one.label) + (f" [{one.unit}]" if one.unit else "") for one in self.first
        )
        named = any(one.name == f"{self.name}.label" for one in self.first)
        left_out = f" A name before them is left out: {self.label.lower()} are numbered."
        return (
            "Put tabs, semicolons or commas between the values, as a spreadsheet does. The order is: "
            f"{order}. If yours is another, name the columns in the first line, such as: {self.titles}."
            f"{'' if named else left_out}"
        )

    @property
    def columns(self) -> list[Field]:
        """Return the fields of one entry."""
        return [*self.first, *self.further]

    def typed(self, values: Mapping[str, list[str]]) -> int:
        """Return of how many entries something was typed."""
        return max(len(values.get(column.name, ())) for column in self.columns)

    def opened(self, row: int, values: Mapping[str, list[str]], faulty: Set[str]) -> bool:
        """Return whether something of an entry that is folded away was typed or is wrong."""
        return any(
            any(values.get(column.name, ())[row : row + 1]) or place_of(column.name, row) in faulty
            for column in self.further
        )


class Form(NamedTuple):
    """The fields of a question: those asked first, and those folded away."""

    first: list[Field | Rows]
    further: list[Field | Rows]
    # which of them belong together
    rules: str

    def in_sight(self, names: Collection[str]) -> "Form":
        """Return the form with these fields among the first: what is typed or wrong is not folded away."""
        moved = [field for field in self.further if field.name in names]
        further = [field for field in self.further if field not in moved]
        return self._replace(first=[*self.first, *moved], further=further)

    @property
    def lists(self) -> dict[str, Rows]:
        """Return the lists of things by name."""
        return {one.name: one for one in (*self.first, *self.further) if isinstance(one, Rows)}

    @property
    def fields(self) -> dict[str, Field]:
        """Return all fields by name, also those of a list."""
        alone = [one for one in (*self.first, *self.further) if isinstance(one, Field)]
        listed = [column for rows in self.lists.values() for column in rows.columns]
        return {field.name: field for field in (*alone, *listed)}


def place_of(name: str, row: int | None = None) -> str:
    """Return the id of a field in the page: a name, and in a list the number of the entry."""
    return f"f-{name}" if row is None else f"f-{name}-{row}"


class Asked(Protocol):
    """What has a form: a question, or a card."""

    @property
    def id(self) -> str:
        """Return its name in addresses."""

    @property
    def asked(self) -> type[Struct]:
        """Return its fields."""

    @property
    def has_query(self) -> bool:
        """Return whether an address can ask it."""

    @property
    def description(self) -> str:
        """Return what it tells, in one sentence."""


def kinds_of(question: Asked) -> tuple[type[Struct], ...]:
    """Return what a form asks. Logs come as files: beside them stands what their upload has in its query."""
    return (question.asked,) if question.has_query else (DischargeLimits, GivenColumns)


def form_of(question: Asked) -> Form:
    """Return the form of a question."""
    return _form(kinds_of(question), FORMS[question.id].first)


@cache
def _form(kinds: tuple[type[Struct], ...], asked_first: tuple[str, ...]) -> Form:
    schemas = schemas_of(list(kinds), [])
    known = names_of(*kinds)
    fields: dict[str, Field | Rows] = {}
    columns: dict[str, list[dict[str, Any]]] = {}
    for parameter in (one for kind in kinds for one in parameters_of(kind, schemas)):
        head = parameter["name"].partition(".")[0]
        if head in known.entries:
            columns.setdefault(head, []).append(parameter)
            fields[head] = _rows(head, columns[head], known, asked_first, schemas)
        else:
            fields[parameter["name"]] = _field(parameter, schemas)
    needed = [field.name for field in fields.values() if field.needed]
    first = [fields[name] for name in dict.fromkeys((*needed, *asked_first)) if name in fields]
    # a picture is what people look for
    first.sort(key=lambda field: field.kind != "layout")
    inside = [_kind_of(kind, name) for kind in kinds for name in columns]
    rules = [presence_in_words(kind) for kind in (*kinds, *inside)]
    return Form(
        first,
        [field for field in fields.values() if field not in first],
        # the rules set names of fields apart
        re.sub(r"`(\w+)`", lambda name: _quoted(name[1]), " ".join(filter(None, rules))),
    )


def _kind_of(asked: type[Struct], name: str) -> type[Struct]:
    """Return what the entries of a list are."""
    forms = forms_of(get_type_hints(asked, include_extras=True)[name])
    (item,) = next(get_args(form.hint) for form in forms if form.kind is list)
    kind: type[Struct] = item
    return kind


def _rows(
    name: str,
    parameters: list[dict[str, Any]],
    known: Names,
    asked_first: tuple[str, ...],
    schemas: dict[str, Any],
) -> Rows:
    """Return a list of things. What a query cannot give to one of them in full has no field."""
    given = {parameter["name"] for parameter in parameters}
    leaves = {one for one in known.fields if one.startswith(f"{name}.")}
    leaves -= {one for one in leaves if any(other.startswith(f"{one}.") for other in leaves)}
    lacking = {one.rpartition(".")[0] for one in leaves - given} - {name}
    fields = [
        _column(parameter, schemas, inside=f"{name}.")
        for parameter in parameters
        if parameter["name"].rpartition(".")[0] not in lacking
    ]
    by_name = {field.name: field for field in fields}
    needed = [field.name for field in fields if field.needed]
    # people begin with what they call it
    order = [f"{name}.label", *needed, *(one for one in asked_first if one in by_name)]
    order = [one for one in dict.fromkeys(order) if one in by_name]
    label = label_of(name)
    most = parameters[0]["schema"]["maxItems"]
    # what stays empty is sent too
    room = (TARGET_LIMIT - _OTHERS) // sum(len(field.name) + _TYPED for field in fields)
    return Rows(
        name=name,
        label=label,
        one=label.removesuffix("s"),
        needed=any(field.needed for field in fields),
        most=min(most, room),
        most_asked=most,
        first=[by_name[one] for one in order],
        further=[field for field in fields if field.name not in order],
    )


def with_labels(sentence: str, names: Iterable[str]) -> str:
    """Return what a form says of a fault: labels of fields in place of their names, and nothing of JSON."""
    sentence = _FOR_PROGRAMS.sub("", sentence).strip() or sentence
    any_name = "|".join(sorted(map(re.escape, names), key=len, reverse=True))
    return re.sub(rf"\b({any_name})\b", lambda found: _quoted(found[0]), sentence)


def _quoted(name: str) -> str:
    return f"“{label_of(name)}”"


def _column(parameter: dict[str, Any], schemas: dict[str, Any], *, inside: str) -> Field:
    """Return a field of an entry of a list. A layout is typed there: pictures for each would fill the page."""
    one = {**parameter, "schema": parameter["schema"]["items"]}
    field = _field(one, schemas, inside=inside)._replace(name=parameter["name"])
    if field.kind != "layout":
        return field
    return field._replace(kind="text", choices=(), hint=_WRITE_LAYOUT)


def _field(parameter: dict[str, Any], schemas: dict[str, Any], *, inside: str = "") -> Field:
    name, schema = parameter["name"].removeprefix(inside), parameter["schema"]
    if "$ref" in schema:
        schema = schemas[schema["$ref"].rpartition("/")[2]] | schema
    unit = schema.get("x-unit", "1")
    meaning, _, default = schema.get("description", "").replace(f" [{unit}]", "").partition(DEFAULT)
    kind = _kind(name, schema)
    choices = _choices(name, kind, schema)
    meaning = _FOR_PROGRAMS.sub("", meaning)
    named = {one.value for one in choices} & set(re.findall(r"\w+", meaning.partition(".")[0]))
    if kind == "choice" and named:
        # the choices say it in words
        meaning = _LISTED.sub(r"\1", meaning)
    return Field(
        name=name,
        label=full_label(name),
        kind=kind,
        unit="" if unit == "1" else unit,
        needed="required" in parameter,
        hint=_in_words(" ".join(filter(None, [meaning.strip(), _bounds(schema, unit)])), choices),
        default=_in_words(default.strip().removesuffix("."), choices),
        choices=choices,
        bounds=(schema.get("minimum", -inf), schema.get("maximum", inf)),
    )


def _in_words(sentence: str, choices: Iterable[Choice]) -> str:
    """Return a sentence with the words of choices, and the labels of fields, in place of their names."""
    words = {one.value: one.text for one in choices}

    def said(found: re.Match[str]) -> str:
        name = found[1] or found[2]
        return f"“{words[name]}”" if name in words else _quoted(name) if "_" in name else name

    return words.get(sentence) or _NAME.sub(said, sentence).replace("`", "")


def _kind(name: str, schema: dict[str, Any]) -> str:
    if schema.get("type") == "array":
        return "list"
    if name == "layout":
        return "layout"
    if "enum" in schema or schema.get("type") == "boolean":
        return "choice"
    return {"number": "number", "integer": "whole"}.get(schema.get("type", ""), "text")


def _bounds(schema: dict[str, Any], unit: str) -> str:
    low, high = schema.get("minimum"), schema.get("maximum")
    if low is None or high is None:
        return ""
    also = ""
    if unit == "1" and schema["type"] == "number" and high <= 1:
        part = max(low, 0.05)
        also = f" {part:g} means {100 * part:g} %."
    elif unit == "Ah":
        also = " 2600 mAh is 2.6 Ah."
    elif (unit, high) == ("Ω", 1):
        also = " 20 mΩ is 0.02 Ω."
    elif unit == "s" and high >= _LONG_S:
        also = " 10 min is 600 s."
    return f"From {_number(low)} to {_number(high)}{'' if unit == '1' else f' {unit}'}.{also}"


def _number(value: float) -> str:
    return f"{value:.10f}".rstrip("0").rstrip(".").replace("-", "−")


def _choices(name: str, kind: str, schema: dict[str, Any]) -> tuple[Choice, ...]:
    if kind == "layout":
        wired = {layout: wiring(layout) for layout in USUAL}
        return tuple(
            Choice(layout, text, picture(wired[layout].series, wired[layout].parallel))
            for layout, text in USUAL.items()
        )
    if schema.get("type") == "boolean":
        return Choice("true", "yes"), Choice("false", "no")
    return tuple(Choice(word, choice_in_words(name, word)) for word in schema.get("enum", ()))
