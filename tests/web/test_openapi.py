"""The document: committed as served, complete, with true examples."""

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest

from percell.questions.registry import QUESTIONS
from percell.web import openapi
from percell.web.reference import reference

COMMITTED = Path(__file__).parents[2] / "openapi" / "openapi.json"
DOCUMENT = openapi.document()
SCHEMAS = DOCUMENT["components"]["schemas"]
OPERATIONS = {
    f"{method.upper()} {path}": operation
    for path, methods in DOCUMENT["paths"].items()
    for method, operation in methods.items()
}
every_operation = pytest.mark.parametrize("name", OPERATIONS)
every_question = pytest.mark.parametrize("question", QUESTIONS.values(), ids=lambda q: q.id)


def test_the_committed_document_is_the_served_one(client: Any) -> None:
    """Whoever reads the repository reads what the service says."""
    rewrite = "the document has changed: write it anew with `percell openapi` and commit it"
    served = client.get("/openapi.json")
    assert served.content == openapi.as_text().encode()
    # not compared as a whole by pytest, which would need minutes for a readable difference
    same = COMMITTED.read_bytes() == served.content
    assert same, rewrite


def test_it_says_the_version_of_openapi() -> None:
    """OpenAPI 3.1, whose schemas are JSON Schema 2020-12: null is a type, and there is no `nullable`."""
    assert DOCUMENT["openapi"].startswith("3.1.")
    assert all("nullable" not in schema for _, schema in schemas(SCHEMAS))


@every_operation
def test_every_operation_is_described(name: str) -> None:
    """Each operation has an id, a summary, a description, a tag that is explained, and an example."""
    operation = OPERATIONS[name]
    assert operation["summary"]
    assert operation["description"]
    assert operation["operationId"]
    assert set(operation["tags"]) <= {tag["name"] for tag in DOCUMENT["tags"]}
    assert "304" in operation["responses"] or name.startswith("POST") or "healthz" in name
    for form in operation["responses"]["200"]["content"].values():
        assert form["example"]
    for parameter in operation.get("parameters", ()):
        assert parameter["description"], parameter["name"]
    if "requestBody" in operation:
        assert operation["requestBody"]["content"]["application/json"]["example"]


def test_operation_ids_are_unique() -> None:
    """Each operation has an id of its own."""
    ids = [operation["operationId"] for operation in OPERATIONS.values()]
    assert len(set(ids)) == len(ids)


@every_operation
def test_examples_are_true_answers(client: Any, post: Any, name: str) -> None:
    """What stands as the answer is what is answered, asked again as the example asks."""
    operation = OPERATIONS[name]
    method, path = name.split()
    content = operation["responses"]["200"]["content"]
    if method == "POST":
        asked = operation["requestBody"]["content"]["application/json"]["example"]
        responses = {"application/json": post(path, asked)}
    else:
        asked = {}
        for parameter in operation.get("parameters", ()):
            if parameter["in"] == "path":
                first = parameter["schema"]["enum"][0]
                path = path.replace(f"{{{parameter['name']}}}", first)
            elif parameter.get("explode"):  # an object whose fields stand each for itself
                asked |= parameter["example"]
            elif "example" in parameter:
                asked[parameter["name"]] = parameter["example"]
        # a text to paste holds the address that was asked
        host = {"host": "percell.example"}
        responses = {
            form: client.get(path, params=asked, headers={"accept": form} | host)
            for form in content
        }
    for form, response in responses.items():
        assert response.status_code == 200, response.text
        got = response.json() if form == "application/json" else response.content.decode()
        assert got == content[form]["example"]


@every_question
def test_every_question_is_an_operation(question: Any) -> None:
    """Each question is in the document, by body, and by query where it has one; and in the batch."""
    assert f"POST /v1/{question.id}" in OPERATIONS
    assert (f"GET /v1/{question.id}" in OPERATIONS) == question.has_query
    assert (
        question.id in SCHEMAS["Batch"]["properties"]["items"]["items"]["discriminator"]["mapping"]
    )


def schemas(node: Any, place: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Return every schema below a node with its place."""
    if isinstance(node, dict):
        yield place, node
        for name, inner in node.items():
            if name not in ("example", "examples", "default", "enum"):
                yield from schemas(inner, f"{place}/{name}")
    elif isinstance(node, list):
        for index, inner in enumerate(node):
            yield from schemas(inner, f"{place}/{index}")


def is_number(schema: dict[str, Any]) -> bool:
    kinds = schema.get("type")
    return not {"number", "integer"}.isdisjoint([kinds] if isinstance(kinds, str) else kinds or ())


def reached(name: str, found: set[str]) -> set[str]:
    """Return the names of the schemas that a schema is made of, itself too."""
    if name not in found:
        found.add(name)
        for _, schema in schemas(SCHEMAS[name]):
            if isinstance(schema.get("$ref"), str):
                reached(schema["$ref"].rpartition("/")[2], found)
    return found


@every_question
def test_every_number_asked_has_bounds_and_a_unit(question: Any) -> None:
    """Each number that a question takes, by body or query, has a least, a most, a unit and a meaning."""
    found = [
        (f"{name}{place}", schema)
        for name in reached(question.asked.__name__, set())
        for place, schema in schemas(SCHEMAS[name])
        if is_number(schema)
    ]
    found += [
        (parameter["name"], parameter["schema"])
        for parameter in OPERATIONS.get(f"GET /v1/{question.id}", {}).get("parameters", ())
        if is_number(parameter["schema"])
    ]
    assert found
    for place, schema in found:
        assert schema["minimum"] < schema["maximum"], place
        assert "exclusiveMinimum" not in schema, place
        assert "exclusiveMaximum" not in schema, place
        assert schema["x-unit"], place
        unit = schema["x-unit"]
        assert schema["description"].endswith(f"[{unit}]") is (unit != "1"), place


@every_question
def test_every_number_answered_has_a_unit(question: Any) -> None:
    """Each number of an answer has its unit, or the unit stands in a field beside it."""
    for name in reached(question.answered.__name__, set()):
        beside = "unit" in SCHEMAS[name].get("properties", {})
        for place, schema in schemas(SCHEMAS[name]):
            if is_number(schema) and not beside:
                assert schema.get("x-unit"), f"{name}{place}"


UNITS = {
    "v": "V", "a": "A", "ohm": "Ω", "w": "W", "wh": "Wh", "ah": "Ah", "s": "s",
    "c": "°C", "k": "K", "m": "m", "mm": "mm", "kg": "kg",
}  # fmt: skip


def test_the_name_of_a_number_ends_in_its_unit() -> None:
    """A number's name ends in its unit, and in that one; a ratio, a count or a word has none."""
    wrong = []
    for schema_name, schema in SCHEMAS.items():
        for name, field in schema.get("properties", {}).items():
            inner = next((part for _, part in schemas(field) if is_number(part)), None)
            if inner is None:
                continue
            expected = UNITS.get(name.rpartition("_")[2], "1") if "_" in name else "1"
            unit = inner.get("x-unit", "1")
            if unit != expected and not _compound(name, unit):
                wrong.append(f"{schema_name}.{name} [{unit}]")
    assert not wrong


def _compound(name: str, unit: str) -> bool:
    """Return whether a name ends in a unit made of several: ``_w_m2k`` in W/(m2·K), or ``_ohm_per_m``."""
    if unit.startswith("1/"):
        return name.endswith("_rate") or "_per_" in name
    plain = {"Ω": "ohm", "²": "2", "³": "3", "(": "", ")": "", "·": ""}
    spelt = unit.translate(str.maketrans(plain)).lower()
    return name.endswith((f"_{spelt.replace('/', '_')}", f"_{spelt.replace('/', '_per_')}"))


def test_the_document_is_json_that_any_reader_takes() -> None:
    """No number in it is one that JSON has no form for."""
    json.dumps(DOCUMENT, allow_nan=False)


def test_no_name_of_a_schema_is_read_as_prose() -> None:
    """Sentences that people read use words, and no names that only the document knows."""
    names = {name for name in SCHEMAS if len(re.findall("[A-Z]", name)) > 1}
    examples = [q.answer(msgspec.convert(q.example, q.asked)) for q in QUESTIONS.values()]
    told = msgspec.json.encode([reference(), examples]).decode()
    for _, schema in schemas(DOCUMENT):
        told += f" {schema.get('description', '')} {schema.get('summary', '')}"
    assert names & set(re.findall(r"\w+", told)) == set()
