"""Two other ways to write one question's endpoint, to measure percell against.

Both call the same ``answer``; PERCELL_BENCH_QUESTION names the question. ``bare`` is about the least
that Python can do over ASGI; ``fastapi_app`` is what the FastAPI documentation teaches. Both serve
nothing else, so neither pays for a router's other paths.
"""

import os
from enum import Enum
from functools import cache
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin, get_type_hints
from urllib.parse import parse_qsl

import msgspec
from fastapi import FastAPI, Query
from msgspec import UNSET, Struct, UnsetType, structs
from pydantic import BaseModel, ConfigDict, Field, create_model

from percell.questions.registry import QUESTIONS

QUESTION = QUESTIONS[os.environ["PERCELL_BENCH_QUESTION"]]

_decode = msgspec.json.Decoder(QUESTION.asked).decode
_encode = msgspec.json.Encoder().encode


async def bare(scope: Any, receive: Any, send: Any) -> None:
    """Decode, answer, encode: nothing is checked or said but the question itself."""
    if scope["type"] != "http":  # no start-up, no shutdown
        return
    if scope["method"] == "POST":
        asked = _decode((await receive())["body"])
    else:
        fields = dict(parse_qsl(scope["query_string"].decode()))
        asked = msgspec.convert(fields, QUESTION.asked, strict=False)
    body = _encode(QUESTION.answer(asked))
    headers = [(b"content-type", b"application/json"), (b"content-length", b"%d" % len(body))]
    await send({"type": "http.response.start", "status": 200, "headers": headers})
    await send({"type": "http.response.body", "body": body})


_BOUNDS = ("gt", "ge", "lt", "le", "multiple_of", "pattern", "min_length", "max_length")


@cache
def model(kind: type[Struct], *, flat: bool = False) -> type[BaseModel]:
    """Return the pydantic model with the fields, bounds and defaults of a Struct.

    ``flat`` leaves out what a query string has no place for: objects.
    """
    hints = get_type_hints(kind, include_extras=True)
    fields: dict[str, Any] = {}
    for field in structs.fields(kind):
        hint = _pydantic(hints[field.name], flat=flat)
        if field.default_factory is not msgspec.NODEFAULT:
            fields[field.name] = (hint, Field(default_factory=field.default_factory))
        elif field.default is UNSET or (
            kind.__struct_config__.omit_defaults and not field.required
        ):
            fields[field.name] = (hint, None)
        else:
            fields[field.name] = (hint, ... if field.required else field.default)
    strict = kind.__struct_config__.forbid_unknown_fields
    # the patterns are Python's; pydantic's own engine has no look-ahead
    config = ConfigDict(extra="forbid" if strict else "ignore", regex_engine="python-re")
    return create_model(kind.__name__, __config__=config, **fields)


def _pydantic(hint: Any, *, flat: bool) -> Any:
    origin, args = get_origin(hint), get_args(hint)
    if origin is Annotated:
        known = _pydantic(args[0], flat=flat)
        for meta in args[1:]:
            said = {name: getattr(meta, name) for name in (*_BOUNDS, "description")}
            known = Annotated[known, Field(**{k: v for k, v in said.items() if v is not None})]
        return known
    if origin in (Union, UnionType):
        kept = [a for a in args if not (flat and isinstance(a, type) and issubclass(a, Struct))]
        return Union[tuple(_pydantic(a, flat=flat) for a in kept)]  # noqa: UP007 - made at run time
    if origin in (list, tuple, dict):
        return origin[tuple(a if a is ... else _pydantic(a, flat=flat) for a in args)]
    if hint is UnsetType:
        return None
    if isinstance(hint, type) and issubclass(hint, Struct):
        return model(hint)
    if hint is None or hint is Any or issubclass(hint, (Enum, str, float, int, bool)):
        return hint
    raise TypeError(f"no pydantic form is known for {hint!r}")


Asked: Any = model(QUESTION.asked)
AskedByQuery: Any = model(QUESTION.asked, flat=True)
# the name of the question is the tag of the Struct and none of its fields, and only what was given is repeated
Answered: Any = create_model(
    "Answered",
    __base__=model(QUESTION.answered),
    question=(str, ...),
    asked=(dict[str, Any], ...),
)


def _answered(asked: BaseModel) -> Any:
    given = msgspec.convert(asked.model_dump(exclude_unset=True), QUESTION.asked)
    return msgspec.to_builtins(QUESTION.answer(given))


fastapi_app = FastAPI()


@fastapi_app.post(f"/v1/{QUESTION.id}")
async def post(asked: Asked) -> Answered:
    """Answer a body."""
    return _answered(asked)


@fastapi_app.get(f"/v1/{QUESTION.id}")
async def get(asked: Annotated[AskedByQuery, Query()]) -> Answered:
    """Answer a query string."""
    return _answered(asked)
