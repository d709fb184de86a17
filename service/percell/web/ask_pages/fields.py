"""The fields of a form, from the description of a query in the API's document."""

import re
from collections.abc import Iterable
from functools import cache
from typing import Any, NamedTuple

from msgspec import Struct

from percell.questions.answering.question import Question
from percell.questions.vocabulary.fields import DEFAULT
from percell.questions.vocabulary.labels import label_of
from percell.questions.vocabulary.layout import LayoutParts
from percell.questions.vocabulary.phrases import choice_in_words
from percell.questions.vocabulary.presence import presence_in_words
from percell.web.ask_pages.pictures import LAYOUTS, picture
from percell.web.ask_pages.words import ASKING
from percell.web.describe_question import parameters_of
from percell.web.schemas import schemas_of


class Choice(NamedTuple):
    """One value to choose."""

    value: str
    text: str
    picture: str = ""


class Field(NamedTuple):
    """One field of a form."""

    name: str
    label: str
    kind: str  # number, text, choice, layout or list
    unit: str
    needed: bool
    hint: str
    default: str
    choices: tuple[Choice, ...]

    @property
    def id(self) -> str:
        """Return its id in the page."""
        return f"f-{self.name}"

    @property
    def in_place(self) -> str:
        """Return what stands in a choice where nothing is chosen: the default, if it is one of the words."""
        text = next((one.text for one in self.choices if one.value == self.default), "")
        return f"{text} (default)" if text else "not given"


class Form(NamedTuple):
    """The fields of a question: those asked first, and those folded away."""

    first: list[Field]
    further: list[Field]
    # which of them belong together
    rules: str

    @property
    def fields(self) -> dict[str, Field]:
        """Return all fields by name."""
        return {field.name: field for field in (*self.first, *self.further)}


def form_of(question: Question) -> Form:
    """Return the form of a question."""
    return _form(question.asked, ASKING[question.id].first)


@cache
def _form(asked: type[Struct], asked_first: tuple[str, ...]) -> Form:
    schemas = schemas_of([asked], [])
    fields = {
        parameter["name"]: _field(parameter, schemas) for parameter in parameters_of(asked, schemas)
    }
    needed = [field.name for field in fields.values() if field.needed]
    first = [fields[name] for name in dict.fromkeys((*needed, *asked_first))]
    # a picture is what people look for
    first.sort(key=lambda field: field.kind != "layout")
    return Form(
        first,
        [field for field in fields.values() if field not in first],
        with_labels(presence_in_words(asked).replace("`", ""), fields),
    )


def with_labels(sentence: str, names: Iterable[str]) -> str:
    """Return a sentence with the labels of fields in place of their names."""
    any_name = "|".join(sorted(map(re.escape, names), key=len, reverse=True))
    return re.sub(rf"\b({any_name})\b", lambda found: f"“{label_of(found[0])}”", sentence)


def _field(parameter: dict[str, Any], schemas: dict[str, Any]) -> Field:
    name, schema = parameter["name"], parameter["schema"]
    if "$ref" in schema:
        schema = schemas[schema["$ref"].rpartition("/")[2]] | schema
    *before, last = name.split(".")
    label = label_of(last)
    if before:
        label = f"{label_of(before[0])}: {label[:1].lower()}{label[1:]}"
    unit = schema.get("x-unit", "1")
    meaning, _, default = schema.get("description", "").replace(f" [{unit}]", "").partition(DEFAULT)
    kind = _kind(name, schema)
    return Field(
        name=name,
        label=label,
        kind=kind,
        unit="" if unit == "1" else unit,
        needed=parameter["required"],
        hint=" ".join(filter(None, [meaning.strip(), _bounds(schema, unit)])).replace("`", ""),
        default=default.strip().removesuffix("."),
        choices=_choices(name, kind, schema),
    )


def _kind(name: str, schema: dict[str, Any]) -> str:
    if schema.get("type") == "array":
        return "list"
    if name == "layout":
        return "layout"
    if "enum" in schema or schema.get("type") == "boolean":
        return "choice"
    return "number" if schema.get("type") in ("number", "integer") else "text"


def _bounds(schema: dict[str, Any], unit: str) -> str:
    low, high = schema.get("minimum"), schema.get("maximum")
    if low is None or high is None:
        return ""
    ratio = " 0.05 means 5 %." if unit == "1" and schema["type"] == "number" and high <= 1 else ""
    return f"From {_number(low)} to {_number(high)}{'' if unit == '1' else f' {unit}'}.{ratio}"


def _number(value: float) -> str:
    return f"{value:g}".replace("-", "−")


def _choices(name: str, kind: str, schema: dict[str, Any]) -> tuple[Choice, ...]:
    if kind == "layout":
        return tuple(
            Choice(
                f"{series}S{parallel}P",
                text,
                picture(LayoutParts(series=series, parallel=parallel)),
            )
            for (series, parallel), text in LAYOUTS.items()
        )
    if schema.get("type") == "boolean":
        return Choice("true", "yes"), Choice("false", "no")
    return tuple(Choice(word, choice_in_words(name, word)) for word in schema.get("enum", ()))
