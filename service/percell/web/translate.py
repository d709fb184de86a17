"""Turns what a question raises into a problem document.

msgspec reports only the first fault, and only as English text. This module reads that text, so a release
of msgspec that words a message differently fails tests/web/test_translate.py.
"""

import re
from enum import Enum
from typing import Any, get_args, get_type_hints

import msgspec
from msgspec import Meta

from percell.physics.errors import NoSolution
from percell.questions.vocabulary.refusal import Refused
from percell.web.problems import Failed, FieldError, escaped, failed_field

# what bad input makes a question raise; anything else is a defect and gives a 500
ERRORS = (NoSolution, Refused, msgspec.MsgspecError, UnicodeDecodeError, RecursionError)

_TYPE_NAMES = {
    "float": "a number",
    "int": "a whole number",
    "str": "text",
    "object": "an object",
    "array": "a list",
    "bool": "true or false",
    "null": "null",
}
# a message of msgspec ends with the place, and may quote the input before it
_PLACE = r"(?: - at `\$((?:\.\w+|\[\d+\]|\[\.\.\.\])*)`)?"
_FIELD_MESSAGE = re.compile(
    rf"Object (missing required|contains unknown) field `(.*?)`{_PLACE}", re.DOTALL
)
_MESSAGE = re.compile(rf"(.*?){_PLACE}", re.DOTALL)
_STEP = re.compile(r"\.(\w+)|\[(\d+)\]|\[\.\.\.\]")
_TYPE = re.compile(r"`(\w+(?: \| \w+)*)`")
_WRONG_TYPE = re.compile(r"Expected `[^`]*`, got `")


def failed(
    error: Exception, asked: Any = None, *, at: str = "", unreadable: str = "unreadable-body"
) -> Failed:
    """Return the problem document of a question's error.

    Args:
        error: One of ``ERRORS``.
        asked: The Struct that was asked for, to name what a field takes.
        at: JSON pointer to the question, if it was part of a body.
        unreadable: The problem type if the request could not be read.
    """
    if isinstance(error, NoSolution):
        return Failed(
            "no-physical-answer", error.detail, code=error.code, numbers=dict(error.numbers)
        )
    if isinstance(error, Refused):
        return Failed(
            "outside-contract",
            error.detail,
            errors=[FieldError(at + fault.pointer, fault.detail) for fault in error.faults],
        )
    if isinstance(error, msgspec.ValidationError):
        if str(error).startswith("Number out of range"):
            return Failed(unreadable, "A number is too large to read.")
        return _invalid(str(error), asked, at)
    if isinstance(error, UnicodeDecodeError):
        return Failed(unreadable, "The body is not UTF-8.")
    if isinstance(error, RecursionError):
        return Failed(unreadable, "The body is nested too deeply.")
    return Failed(unreadable, str(error))


def _invalid(text: str, asked: Any, at: str) -> Failed:
    if named := _FIELD_MESSAGE.fullmatch(text):
        pointer = f"{at}{_pointer(named[3])}/{escaped(named[2])}"
        required = named[1] == "missing required"
        return failed_field(
            pointer, "This field is required." if required else "There is no such field."
        )
    message, place = _MESSAGE.fullmatch(text).groups()  # type: ignore[union-attr] # it matches any text
    within = _pointer(place)
    pointer = at + within
    if message.startswith("Invalid enum value"):
        return failed_field(pointer, f"{message}.{_allowed_words(asked, within)}")
    if "matching regex" in message:
        return failed_field(
            pointer,
            f"The text has the wrong form.{_description(asked, within)}",
        )
    plain = _TYPE.sub(lambda types: _in_words(types[1]), message) + "."
    if _WRONG_TYPE.match(message):
        return failed_field(pointer, plain, "wrong-type")
    return failed_field(pointer, plain)


def _pointer(place: str | None) -> str:
    return "".join(f"/{name or index or '-'}" for name, index in _STEP.findall(place or ""))


def _in_words(types: str) -> str:
    return " or ".join(_TYPE_NAMES.get(name, name) for name in types.split(" | "))


def _description(asked: Any, pointer: str) -> str:
    """Return a field's own description, because few readers can read its pattern."""
    hint = (
        get_type_hints(asked, include_extras=True).get(pointer.removeprefix("/")) if asked else None
    )
    for part in (hint, *get_args(hint)):
        for meta in getattr(part, "__metadata__", ()):
            if isinstance(meta, Meta) and meta.pattern:
                return f" {meta.description}"
    return ""


def _allowed_words(asked: Any, pointer: str) -> str:
    """Return the words that a field takes."""
    hint = get_type_hints(asked).get(pointer.removeprefix("/")) if asked else None
    for part in (hint, *getattr(hint, "__args__", ())):
        if isinstance(part, type) and issubclass(part, Enum):
            return f" Allowed: {', '.join(str(word) for word in part)}."
    return ""
