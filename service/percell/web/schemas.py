"""The schemas of the OpenAPI document, made from Structs: what msgspec says, in keywords that most tools know.

No field is described here: description, unit and bounds come from the Struct.
"""

from typing import Any

import msgspec
from msgspec import Struct

from percell.questions.vocabulary.fields import DEFAULT, NO_LINE_BREAK
from percell.questions.vocabulary.presence import presence_in_words, presence_schema
from percell.web.operations import REF

Schema = dict[str, Any]

# the schemas of what every answer has, and of what only a full one has, the same for all questions
_EVERY = "EveryAnswer"
_IN_FULL = "InFull"


def schemas_of(asked: list[type[Struct]], answered: list[type[Struct]]) -> dict[str, Schema]:
    """Return the schemas of what is asked and of what is answered, and of all that they are made of, by name."""
    _, named = msgspec.json.schema_components([*asked, *answered], ref_template=REF)
    schemas = dict(sorted(named.items()))
    for name, enumeration in _parts([*asked, *answered], msgspec.inspect.EnumType).items():
        schemas[name]["enum"] = [word.value for word in enumeration]  # msgspec sorts them
    of_asked = _parts(asked, msgspec.inspect.StructType)
    of_answered = _parts(answered, msgspec.inspect.StructType)
    only_answered = of_answered.keys() - of_asked.keys()
    for name, struct in of_answered.items():
        if name in only_answered and not struct.__struct_config__.omit_defaults:
            _require_defaults(schemas[name])
    common = {
        name: _common(schema, says_default=name not in only_answered)
        for name, schema in schemas.items()
    }
    for name, struct in of_asked.items():
        if rules := presence_schema(struct):
            common[name] |= {
                "description": f"{common[name]['description']}\n\n{presence_in_words(struct)}",
                # code generators read the fields beside this, and pass over what has none
                "allOf": rules,
            }
    words = {name for name, schema in common.items() if "enum" in schema}
    return {
        name: _opened(schema, words) if name in only_answered else schema
        for name, schema in common.items()
    }


def _parts(kinds: list[type[Struct]], wanted: Any) -> dict[str, Any]:
    """Return the Structs or the enumerations that these are made of, by name."""
    found: dict[str, Any] = {}
    seen: set[type] = set()

    def walk(node: Any) -> None:
        if isinstance(node, wanted):
            found[node.cls.__name__] = node.cls
        if isinstance(node, msgspec.inspect.StructType):
            if node.cls in seen:
                return
            seen.add(node.cls)
        if isinstance(node, tuple):
            for part in node:
                walk(part)
        elif isinstance(node, msgspec.inspect.Type | msgspec.inspect.Field):
            for name in node.__struct_fields__:
                walk(getattr(node, name))

    walk(msgspec.inspect.multi_type_info(kinds))
    return found


def _opened(schema: Any, words: set[str]) -> Any:
    """Return the schema of an answer in which a word may also be one that is added later.

    A client that is made from the document would otherwise refuse a whole answer for such a word.

    Args:
        schema: A schema that only answers have.
        words: Names of the enumerations.
    """
    if isinstance(schema, list):
        return [_opened(part, words) for part in schema]
    if not isinstance(schema, dict):
        return schema
    if "$ref" in schema and schema["$ref"].rpartition("/")[2] in words:
        rest = {name: part for name, part in schema.items() if name != "$ref"}
        return rest | {"anyOf": [{"$ref": schema["$ref"]}, {"type": "string"}]}
    opened = {name: _opened(part, words) for name, part in schema.items()}
    if len(opened.get("allOf", ())) == 1 and "anyOf" in opened["allOf"][0]:
        (only,) = opened.pop("allOf")
        opened |= only
    return opened


def _require_defaults(schema: Schema) -> None:
    """Require each field of an answer that is sent even where it has its default."""
    sent = [name for name, field in schema.get("properties", {}).items() if "default" in field]
    if sent:
        schema["required"] = [*schema.get("required", ()), *sent]


def _common(schema: Any, *, says_default: bool) -> Any:
    """Return a schema in keywords that most tools know.

    A default is said in words: a client that is made from the document would send one in a keyword with every
    request, and so go on to send it after it has been changed.
    """
    if isinstance(schema, list):
        return [_common(part, says_default=says_default) for part in schema]
    if not isinstance(schema, dict):
        return schema
    common = {
        name: _common(part, says_default=says_default)
        for name, part in schema.items()
        if name != "title" or not isinstance(part, str)  # the name that stands before the schema
    }
    if common.get("multipleOf") == 1:
        common["type"] = "integer"
        del common["multipleOf"]
        for bound in ("minimum", "maximum"):
            if bound in common:
                common[bound] = int(common[bound])
    if "enum" in common and "type" not in common:
        common["type"] = "string"
        if len(common["enum"]) == 1:  # the name of a question in its answer
            (common["const"],) = common.pop("enum")
    if (
        common.get("type") == "object"
        and not {"properties", "additionalProperties"} & common.keys()
    ):
        common["additionalProperties"] = True  # unsaid, a typed client takes it for an empty object
    if "pattern" in common:
        common["pattern"] = common["pattern"].removesuffix(NO_LINE_BREAK)
    default = common.pop("default", None)
    if says_default and (words := _in_words(default, common.get("x-unit", "1"))):
        common["description"] = f"{common.get('description', '')} {DEFAULT} {words}.".lstrip()
    return common


def _in_words(default: Any, unit: str) -> str:
    """Return a default in words; none of an empty one, which says nothing."""
    if default is None or default in ([], {}, ""):
        return ""
    if isinstance(default, bool):
        return "true" if default else "false"
    if isinstance(default, int | float):
        return f"{default:.10g}" + ("" if unit == "1" else f" {unit}")
    return str(default)


def compose(schemas: dict[str, Schema], answers: dict[str, str]) -> None:
    """Describe what all answers have in common once.

    Args:
        schemas: The schemas of the document.
        answers: Name of the schema of each answer in full, and of the same in short.
    """
    first = schemas[next(iter(answers.values()))]["properties"]
    every = {
        name: field
        for name, field in first.items()
        if all(_always_has(schemas[short], name, field) for short in answers.values())
    }
    in_full: dict[str, Any] = {}
    for full, short in answers.items():
        whole, own = schemas[full]["properties"], schemas[short]
        in_full = {name: field for name, field in whole.items() if name not in own["properties"]}
        description = own.pop("description")
        # what it is about, the short form says
        schemas[full] = {"allOf": [{"$ref": REF.format(name=part)} for part in (short, _IN_FULL)]}
        own["properties"] = {n: field for n, field in own["properties"].items() if n not in every}
        own["required"] = [name for name in own["required"] if name not in every]
        schemas[short] = {
            "description": description,
            "allOf": [{"$ref": REF.format(name=_EVERY)}, own],
        }
    schemas[_EVERY] = _all_required("What every answer has, in full or in short.", every)
    schemas[_IN_FULL] = _all_required("What an answer has in full, and not in short.", in_full)


def _always_has(schema: Schema, name: str, field: Schema) -> bool:
    return schema["properties"].get(name) == field and name in schema["required"]


def _all_required(description: str, fields: dict[str, Any]) -> Schema:
    return {
        "description": description,
        "type": "object",
        "properties": fields,
        "required": [*fields],
    }
