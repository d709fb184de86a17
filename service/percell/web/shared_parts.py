"""What the OpenAPI document says more than once, said once and referred to.

A field that several schemas share becomes a schema of its own, a parameter that several operations share a
parameter of its own, and an example that stands twice an example of its own.
"""

import json
import re
from collections import Counter
from collections.abc import Callable, Iterator
from typing import Any

Part = dict[str, Any]
# characters of a reference
_REFERENCE = 50


def share(document: Part) -> Part:
    """Return the document with whatever it says more than once in its components."""
    document = json.loads(_text(document))  # a copy in which no part is in two places
    _share_examples(document)
    _share(document, "schemas", lambda: _fields(document), _as_schema)
    _share(document, "parameters", lambda: _parameters(document), lambda parameter: parameter)
    return document


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
                    yield part["properties"], name, f"{_type_name(name)}Field"
    for operation in _operations(document):
        for parameter in operation.get("parameters", ()):
            name, schema = parameter["name"], parameter["schema"]
            if "items" in schema:  # of the entries of a list
                yield schema, "items", f"{_type_name(name.rpartition('.')[2])}Field"
            else:
                yield parameter, "schema", f"{_type_name(name)}Field"


def _parameters(document: Part) -> Iterator[_Place]:
    for operation in _operations(document):
        parameters = operation.get("parameters", [])
        for place, parameter in enumerate(parameters):
            needed = "Required" if parameter["required"] else ""
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
