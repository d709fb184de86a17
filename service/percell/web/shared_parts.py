"""What the OpenAPI document says more than once, said once and referred to.

A field that several schemas share becomes a schema of its own, a parameter that several operations share a
parameter of its own, and an example that stands twice an example of its own. What only one field refers to stands in
that field.
"""

import json
import re
from collections import Counter
from collections.abc import Callable, Iterator
from typing import Any

Part = dict[str, Any]
# characters of a reference
_REFERENCE = 50
# what the name of a shared field ends in where something else has the plain name
_FIELD = "Field"
_TO_SCHEMA = "#/components/schemas/"


def share(document: Part) -> Part:
    """Return the document with whatever it says more than once in its components."""
    document = json.loads(_text(document))  # a copy in which no part is in two places
    _share_examples(document)
    _share(document, "schemas", lambda: _fields(document), _as_schema)
    _share(document, "parameters", lambda: _parameters(document), lambda parameter: parameter)
    return _plainly_named(_fields_first(document))


def _operations(document: Part) -> Iterator[Part]:
    for methods in document["paths"].values():
        yield from methods.values()


# a place in the document where a part stands: what holds it, under which key, and the name it goes by
_Place = tuple[Any, Any, str]


def _fields(document: Part) -> Iterator[_Place]:
    """Yield the fields of bodies and answers, and then parameters, whose schema may be that of a field."""
    for schema in [*document["components"]["schemas"].values()]:
        for part in (schema, *schema.get("allOf", ())):
            if "type" in part:
                for name in part.get("properties", {}):
                    yield part["properties"], name, f"{_type_name(name)}{_FIELD}"
    for operation in _operations(document):
        for parameter in operation.get("parameters", ()):
            name, schema = parameter["name"], parameter["schema"]
            if "items" in schema:  # of the entries of a list
                yield schema, "items", f"{_type_name(name.rpartition('.')[2])}{_FIELD}"
            else:
                yield parameter, "schema", f"{_type_name(name)}{_FIELD}"


def _parameters(document: Part) -> Iterator[_Place]:
    for operation in _operations(document):
        parameters = operation.get("parameters", [])
        for place, parameter in enumerate(parameters):
            needed = "Required" if "required" in parameter else ""
            yield parameters, place, _type_name(parameter["name"]) + needed


def _type_name(field: str) -> str:
    """Return a field's name as names of schemas are written."""
    return "".join(word.capitalize() for word in re.split("[._-]", field))


def _as_schema(field: Part) -> Part:
    """Return a field as a schema of its own: code generators know no schema that is only a reference."""
    if "$ref" not in field:
        return field
    return {"allOf": [{"$ref": field["$ref"]}]} | {k: v for k, v in field.items() if k != "$ref"}


def _share(
    document: Part, kind: str, places: Callable[[], Iterator[_Place]], whole: Callable[[Part], Part]
) -> None:
    """Name each part that stands at two places or more.

    Of several parts that go by one name, the one that saves most gets it, and the others stay where they are: a name with a number would change whenever a question is added.
    """
    components = document["components"].setdefault(kind, {})
    uses: dict[str, Counter[str]] = {}
    for holder, key, name in places():
        part = _text(holder[key])
        counted = uses.setdefault(name, Counter())
        # a schema that only parameters have is said once as that of a shared parameter
        if key != "schema" or part in counted:
            counted[part] += 1
    named: dict[str, str] = {}
    for name, parts in sorted((name, parts) for name, parts in uses.items() if parts):
        part, count = max(parts.items(), key=lambda one: _saved(*one))
        if _saved(part, count) > 0:
            named[name] = part
            components[name] = whole(json.loads(part))
    for holder, key, name in places():
        if named.get(name) == _text(holder[key]):
            holder[key] = {"$ref": f"#/components/{kind}/{name}"}


def _saved(part: str, count: int) -> int:
    """Return how many characters it saves to say a part once and to refer to it."""
    return (count - 1) * len(part) - count * _REFERENCE


def _fields_first(document: Part) -> Part:
    """Put the shared fields before all that refers to them, those of one unit together: Brotli packs that smaller."""
    schemas = document["components"]["schemas"]
    fields = sorted(
        (name for name in schemas if name.endswith(_FIELD)),
        key=lambda name: (schemas[name].get("x-unit", ""), name),
    )
    document["components"]["schemas"] = {name: schemas[name] for name in [*fields, *schemas]}
    return document


def _plainly_named(document: Part) -> Part:
    """Name each shared field without its ending, unless something else has that name.

    A list of words that only one field refers to becomes one schema with that field.
    """
    schemas = document["components"]["schemas"]
    uses = Counter(re.findall(rf'"{_TO_SCHEMA}(\w+)"', _text(document)))
    plain = {name: name for name in schemas}
    for name in [name for name in schemas if name.endswith(_FIELD)]:
        words = _described_anew(schemas[name])
        if uses[words] == 1 and "enum" in schemas[words]:
            schemas[name] = schemas.pop(words) | {"description": schemas[name]["description"]}
            plain[name] = words
        elif name.removesuffix(_FIELD) not in plain:
            plain[name] = name.removesuffix(_FIELD)
    document["components"]["schemas"] = {plain[name]: part for name, part in schemas.items()}
    named: Part = _renamed(
        document, {_TO_SCHEMA + name: _TO_SCHEMA + plain[name] for name in plain}
    )
    return named


def _described_anew(field: Part) -> str:
    """Return the name of the schema that a field is but for its description, or nothing."""
    parts = field.get("allOf", ())
    return str(parts[0]["$ref"]).removeprefix(_TO_SCHEMA) if len(parts) == 1 else ""


def _renamed(part: Any, names: dict[str, str]) -> Any:
    """Return a part of the document with other names in its references."""
    if isinstance(part, list):
        return [_renamed(inner, names) for inner in part]
    if not isinstance(part, dict):
        return part
    return {
        key: names.get(inner, inner) if key == "$ref" else _renamed(inner, names)
        for key, inner in part.items()
    }


def _share_examples(document: Part) -> None:
    """Move each example that stands twice or more into the components, named after its operation."""
    found: dict[str, list[tuple[Part, str]]] = {}
    for operation in _operations(document):
        for content, of_body in _contents(operation):
            if "example" in content:
                name = operation["operationId"] + ("_body" if of_body else "")
                found.setdefault(_text(content["example"]), []).append((content, name))
    examples = document["components"].setdefault("examples", {})
    for text, places in found.items():
        if len(places) > 1:
            name = places[0][1]
            examples[name] = {"value": json.loads(text)}
            for content, _ in places:
                del content["example"]
                content["examples"] = {"example": {"$ref": f"#/components/examples/{name}"}}


def _contents(operation: Part) -> Iterator[tuple[Part, bool]]:
    """Yield each content, and whether it is a body that is sent."""
    for content in operation.get("requestBody", {}).get("content", {}).values():
        yield content, True
    for response in operation["responses"].values():
        for content in response.get("content", {}).values():
            yield content, False


def _text(part: Part) -> str:
    return json.dumps(part, ensure_ascii=False)
