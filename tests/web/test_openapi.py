"""The document: committed as served, complete, with true examples."""

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest

from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary.labels import label_of
from percell.questions.vocabulary.rules import Attention, Severity
from percell.questions.vocabulary.verdict import Verdict
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
    # not compared as a whole by pytest, which would need minutes for a readable difference
    same = COMMITTED.read_bytes() == openapi.as_text().encode()
    assert same, rewrite
    same = served.content == openapi.as_bytes()
    assert same, "served otherwise"
    same = json.loads(COMMITTED.read_bytes()) == served.json()
    assert same, "the committed document has line breaks, and says the same"


def test_it_says_the_version_of_openapi() -> None:
    """OpenAPI 3.1, whose schemas are JSON Schema 2020-12: null is a type, and there is no `nullable`."""
    assert DOCUMENT["openapi"].startswith("3.1.")
    assert all("nullable" not in schema for _, schema in schemas(SCHEMAS))


def whole(part: dict[str, Any]) -> dict[str, Any]:
    """Return what stands for a part: itself, or what it refers to."""
    return whole(next_of(part)) if "$ref" in part else part


def next_of(part: dict[str, Any]) -> dict[str, Any]:
    """Return what a part refers to, which may refer to something else."""
    found: Any = DOCUMENT
    for step in part["$ref"].removeprefix("#/").split("/"):
        found = found[step]
    return dict(found)


def parameters(operation: dict[str, Any]) -> list[dict[str, Any]]:
    return [whole(parameter) for parameter in operation.get("parameters", ())]


def example(content: dict[str, Any]) -> Any:
    """Return the example of a content, if it has one: there, or among those that several share."""
    shared = content.get("examples", {}).values()
    return content.get("example", next((whole(one)["value"] for one in shared), None))


@every_operation
def test_every_operation_is_described(name: str) -> None:
    """Each operation has an id, a summary, a description and a tag that is explained."""
    operation = OPERATIONS[name]
    assert operation["summary"]
    assert operation["description"]
    assert operation["operationId"]
    assert set(operation["tags"]) <= {tag["name"] for tag in DOCUMENT["tags"]}
    assert "304" in operation["responses"] or name.startswith("POST") or "healthz" in name
    for parameter in parameters(operation):
        assert parameter["description"], parameter["name"]


@every_operation
def test_a_query_can_become_too_long(name: str) -> None:
    """An operation that reads a query says how it answers one that is too long, uploads with columns too."""
    asked = [one for one in parameters(OPERATIONS[name]) if one["in"] == "query"]
    assert ("414" in OPERATIONS[name]["responses"]) == bool(asked)


@every_operation
def test_every_body_has_an_example(name: str) -> None:
    """Whoever sends a body sees one that is answered."""
    body = OPERATIONS[name].get("requestBody", {"content": {}})
    assert all(example(one) for one in body["content"].values())


def test_each_form_of_an_answer_is_shown_once() -> None:
    """The document shows an answer in full, in short, as CSV and as text, a batch and a table; others are alike."""
    shown = {
        name
        for name, operation in OPERATIONS.items()
        if any(map(example, operation["responses"]["200"]["content"].values()))
    }
    questions = {f"{method} /v1/{place}" for method in ("GET", "POST")
                 for place in ("direct-load", "short/{question}")}  # fmt: skip
    assert shown == questions | {
        "GET /v1/csv/{question}",
        "GET /v1/reply/{question}",
        "POST /v1/batch",
        "POST /v1/tables.csv",
    }


def meaning_of(schema: dict[str, Any]) -> str:
    """Return the first description of a schema: its own, that of its entries, or that of what it refers to."""
    if "description" in schema:
        return str(schema["description"])
    return meaning_of(schema["items"] if "items" in schema else next_of(schema))


@every_question
def test_a_parameter_has_a_label_and_its_schema_the_meaning(question: Any) -> None:
    """A meaning is said once; a parameter has a label for a form, what only a query needs, and the default."""
    for parameter in parameters(OPERATIONS.get(f"GET /v1/{question.id}", {})):
        label, said = parameter["description"].split(".", 1)
        note, _, default = said.partition(" Default: ")
        assert label == label_of(parameter["name"].rpartition(".")[2])
        assert not note or "." in parameter["name"] or "items" in parameter["schema"]
        meaning = meaning_of(parameter["schema"])
        assert meaning
        assert default == meaning.partition("Default: ")[2]


def test_one_question_shows_its_whole_answer() -> None:
    """The first question of the guide has its answer in full, by body and by query, said once."""
    for method in ("GET", "POST"):
        content = OPERATIONS[f"{method} /v1/direct-load"]["responses"]["200"]["content"]
        assert example(content["application/json"])["cautions"]
        assert "$ref" in content["application/json"]["examples"]["example"]


def begins(got: Any, shown: Any) -> bool:
    """Whether an answer is the one that is shown, which may have only the first entries of its lists."""
    if isinstance(shown, list):
        return len(got) >= len(shown) and all(map(begins, got, shown))
    if isinstance(shown, dict):
        return got.keys() == shown.keys() and all(begins(got[name], shown[name]) for name in shown)
    if isinstance(shown, str) and shown.endswith("\r\n"):
        return got.startswith(shown)
    return got == shown


@every_operation
def test_examples_are_true_answers(client: Any, post: Any, flat: Any, name: str) -> None:
    """What stands as the answer is what is answered, asked again as the example asks."""
    operation = OPERATIONS[name]
    method, path = name.split()
    content = operation["responses"]["200"]["content"]
    if method == "POST":
        ((media, sent),) = operation["requestBody"]["content"].items()
        path = path.replace("{question}", "direct-load")
        responses = dict.fromkeys(content, post(path, example(sent), content_type=media))
    else:
        # a question has the same example by query as by body
        known = QUESTIONS.get(path.rpartition("/")[2].replace("{question}", "direct-load"))
        asked = dict(known.example) if known else {}
        for parameter in parameters(operation):
            if parameter["in"] == "path":
                first = parameter.get("example", whole(parameter["schema"])["enum"][0])
                path = path.replace(f"{{{parameter['name']}}}", first)
            elif parameter.get("explode"):  # an object whose fields stand each for itself
                asked |= parameter["example"]
            elif "example" in parameter:
                asked[parameter["name"]] = parameter["example"]
        responses = {
            form: client.get(path, params=flat(asked), headers={"accept": form}) for form in content
        }
    for form, response in responses.items():
        assert response.status_code == 200, response.text
        got = response.json() if form == "application/json" else response.content.decode()
        shown = example(content[form])
        assert shown is None or begins(got, shown)
        if "first entries" not in operation["responses"]["200"]["description"]:
            assert shown in (None, got)


@pytest.mark.parametrize(
    ("coding", "most"), [("identity", 392_000), ("gzip", 55_600), ("br", 40_000)]
)
def test_the_document_is_small(client: Any, coding: str, most: int) -> None:
    """Whoever loads the document loads little: it says each field, parameter, meaning and example once."""
    answer = client.get("/openapi.json", headers={"accept-encoding": coding})
    assert int(answer.headers["content-length"]) <= most


def test_what_every_answer_has_is_said_once() -> None:
    """A client can show any answer by one type: each answer is what is its own, and what all have."""
    every = {"$ref": "#/components/schemas/EveryAnswer"}
    for question in QUESTIONS.values():
        common, own = SCHEMAS[question.result.__name__]["allOf"]
        assert common == every
        assert not own["properties"].keys() & whole(common)["properties"].keys()


def test_a_shared_field_has_a_plain_name() -> None:
    """The name of a shared field is that of the field, and ends in `Field` only beside something of that name."""
    assert SCHEMAS["CellRatingA"]["x-unit"] == "A"
    assert SCHEMAS["Chemistry"]["enum"], "a list of words is one with the only field that takes it"
    assert SCHEMAS["Chemistry"]["description"].endswith("Default: nmc.")
    ending = [name for name in SCHEMAS if name.endswith("Field")]
    assert ending
    assert {name.removesuffix("Field") for name in ending} <= SCHEMAS.keys()


def test_words_are_in_the_order_of_their_declaration() -> None:
    """Where a list of words says that it begins with the mildest, it does."""
    for words in (Severity, Attention, Verdict):
        assert SCHEMAS[words.__name__]["enum"] == list(words)
    assert SCHEMAS["Verdict"]["enum"][0] == "within_limit"
    assert "mildest first" in SCHEMAS["Verdict"]["description"]


def test_what_need_not_be_sent_says_nothing_of_it() -> None:
    """Only a required parameter says that it is: the specification's default is said nowhere."""
    found = [one for operation in OPERATIONS.values() for one in parameters(operation)]
    assert any("required" in one for one in found)
    assert all(one.get("required", True) for one in found)


def test_no_default_is_sent_back() -> None:
    """No schema has a default, which made clients would send with every request; descriptions say it in words."""
    assert not [place for place, schema in schemas(DOCUMENT) if "default" in schema]
    asked = whole(SCHEMAS["DirectLoad"]["properties"]["contact_resistance_ohm"])
    assert asked["description"].endswith("Default: 0.005 Ω.")
    asked = whole(SCHEMAS["DirectLoad"]["properties"]["cell_charged_voltage_v"])
    assert asked["description"].endswith("Default: that of the chemistry.")


def test_what_is_always_sent_is_required() -> None:
    """A made client need not ask whether the cautions, or an empty list, are there."""
    result, more = map(whole, SCHEMAS["DirectLoadAnswer"]["allOf"])
    assert {"cautions", "working", "assumptions"} == set(more["required"])
    every, own = map(whole, result["allOf"])
    assert {"question", "asked", "verdict", "limits", "headroom"} <= set(own["required"])
    assert {"version", "headline", "attention", "findings", "links"} == set(every["required"])
    assert "value" not in SCHEMAS["Limit"]["required"]


def test_a_word_of_an_answer_can_be_one_from_later() -> None:
    """A client made today reads an answer with a word that is added tomorrow, instead of failing on it."""
    answered = [SCHEMAS["EveryAnswer"]["properties"]["attention"], SCHEMAS["VerdictField"]]
    answered += [SCHEMAS["Limit"]["properties"]["name"], SCHEMAS["Finding"]["properties"]["limit"]]
    answered += [
        SCHEMAS["Problem"]["properties"]["code"],
        SCHEMAS["FieldError"]["properties"]["code"],
    ]
    for word in answered:
        listed, any_other = word["anyOf"]
        assert "enum" in whole(listed)
        assert any_other == {"type": "string"}
    asked = whole(SCHEMAS["DirectLoad"]["properties"]["chemistry"])
    assert "anyOf" not in asked, "a question takes no word that is not in the document"


def test_an_object_of_any_fields_says_so() -> None:
    """A typed client takes an object without fields for one that must be empty."""
    objects = [one for _, one in schemas(SCHEMAS) if one.get("type") == "object"]
    assert objects
    assert not [o for o in objects if not {"properties", "additionalProperties"} & o.keys()]


def test_what_is_not_always_sent_is_not_promised(client: Any) -> None:
    """A question without a query has no path of its own for CSV, and the health of now no tag to keep it by."""
    assert not {"csv", "reply"} & set(SCHEMAS["IndexQuestion"]["required"])
    assert "headers" not in OPERATIONS["GET /healthz"]["responses"]["200"]
    assert "etag" not in client.get("/healthz").headers


def test_every_pattern_is_one_that_any_engine_takes() -> None:
    """No pattern looks ahead or behind, which several engines cannot."""
    found = [schema["pattern"] for _, schema in schemas(DOCUMENT) if "pattern" in schema]
    assert found
    assert not [pattern for pattern in found if "(?" in pattern]


def test_all_that_is_asked_has_a_longest_length() -> None:
    """No field of a body or query takes a text or a list without end, but a word from a list and a file."""
    names = {
        name
        for operation in OPERATIONS.values()
        for content in operation.get("requestBody", {}).get("content", {}).values()
        if "$ref" in content["schema"]
        for name in reached(content["schema"]["$ref"].rpartition("/")[2], set())
    }
    asked = [(name + place, one) for name in names for place, one in schemas(SCHEMAS[name])]
    asked += [
        (parameter["name"], whole(parameter["schema"]))
        for operation in OPERATIONS.values()
        for parameter in parameters(operation)
    ]
    texts = [(place, one) for place, one in asked if one.get("type") == "string"]
    assert texts
    for place, one in texts:
        assert "maxLength" in one or "enum" in one or "const" in one, place
    lists = [(place, one) for place, one in asked if one.get("type") == "array"]
    assert lists
    for place, one in lists:
        assert "maxItems" in one, place


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
        (parameter["name"], whole(parameter["schema"]))
        for parameter in parameters(OPERATIONS.get(f"GET /v1/{question.id}", {}))
        if is_number(whole(parameter["schema"]))
    ]
    assert found
    for place, schema in found:
        assert schema["minimum"] < schema["maximum"], place
        assert "exclusiveMinimum" not in schema, place
        assert "exclusiveMaximum" not in schema, place
        assert schema["x-unit"], place
        unit = schema["x-unit"]
        assert (f"[{unit}]" in schema["description"]) is (unit != "1"), place


@every_question
def test_every_number_answered_has_a_unit(question: Any) -> None:
    """Each number of an answer has its unit, or the unit stands in a field beside it."""
    for name in reached(question.answered.__name__, set()):
        beside = "unit" in SCHEMAS[name].get("properties", {})
        for place, schema in schemas(SCHEMAS[name]):
            if is_number(schema) and not beside:
                assert schema.get("x-unit"), f"{name}{place}"


def test_every_field_has_a_meaning() -> None:
    """Each field of what is asked and answered is described, but the constant that names the question."""
    missing = [
        f"{name}.{field}"
        for name, schema in SCHEMAS.items()
        for field, one in schema.get("properties", {}).items()
        if "description" not in one and "description" not in whole(one) and "const" not in one
    ]
    assert not missing


UNITS = {
    "v": "V", "a": "A", "ohm": "Ω", "w": "W", "wh": "Wh", "ah": "Ah", "s": "s",
    "c": "°C", "k": "K", "m": "m", "mm": "mm", "kg": "kg",
}  # fmt: skip


def test_the_name_of_a_number_ends_in_its_unit() -> None:
    """A number's name ends in its unit, and in that one; a ratio, a count or a word has none."""
    wrong = []
    for schema_name, schema in SCHEMAS.items():
        for name, field in schema.get("properties", {}).items():
            said = field if "properties" in whole(field) else whole(field)
            inner = next((part for _, part in schemas(said) if is_number(part)), None)
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
    """Sentences that people read use words, no names that only the document knows, and no marks of a docstring."""
    assert not [place for place, one in schemas(DOCUMENT) if "``" in str(one.get("description"))]
    names = {name for name in SCHEMAS if len(re.findall("[A-Z]", name)) > 1}
    examples = [q.answer(msgspec.convert(q.example, q.asked)) for q in QUESTIONS.values()]
    told = msgspec.json.encode([reference(), examples]).decode()
    for _, schema in schemas(DOCUMENT):
        told += f" {schema.get('description', '')} {schema.get('summary', '')}"
    assert names & set(re.findall(r"\w+", told)) == set()
