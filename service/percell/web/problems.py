"""Problem documents (RFC 9457): one type for each way a request can fail, each with a page."""

import re
from enum import Enum
from typing import Annotated, Any, get_args, get_type_hints

import msgspec
from msgspec import UNSET, Meta, Struct, UnsetType

from percell.physics.errors import NoSolution
from percell.questions.vocabulary.refusal import Refused

MEDIA = b"application/problem+json"


class Kind(Struct, frozen=True):
    """A problem type: its page is at ``/problems/<id>/``."""

    id: str
    status: int
    title: str
    explanation: Annotated[str, Meta(description="What it means and what to do.")]


KINDS: dict[str, Kind] = {
    kind.id: kind
    for kind in [
        Kind(
            "unreadable-body",
            400,
            "The body cannot be read",
            "The body is not JSON in UTF-8, is nested too deeply, or holds a number that JSON has no form "
            "for, such as NaN, Infinity or 1e400. Where a name stands twice in one object, JSON readers "
            "take the last one; percell does so too.",
        ),
        Kind(
            "unreadable-query",
            400,
            "The query string cannot be read",
            "The query string is not name=value pairs in UTF-8 with percent-encoding.",
        ),
        Kind(
            "wrong-type",
            400,
            "A value has the wrong type",
            'A field holds another type of value than it takes, for example text where a number belongs: "1" '
            "in quotes is text. `errors` names the field by JSON pointer.",
        ),
        Kind(
            "outside-contract",
            422,
            "A field is missing, unknown or out of bounds",
            "The request is well formed, but a field is missing, is not known, lies outside its bounds or "
            "contradicts another one. `errors` names the first such field by JSON pointer. The API document "
            "gives the bounds of every field.",
        ),
        Kind(
            "no-physical-answer",
            422,
            "No physical state answers the question",
            "The question is within bounds, but no current or voltage exists that would answer it: for "
            "example a power above the most the pack can deliver. `numbers` holds the limiting values.",
        ),
        Kind(
            "not-found",
            404,
            "Nothing is here",
            "The path names no resource. Paths end without a slash.",
        ),
        Kind(
            "method-not-allowed",
            405,
            "This method is not for this path",
            "The `Allow` header names the methods that are.",
        ),
        Kind(
            "not-acceptable",
            406,
            "No acceptable form",
            "The `Accept` header excludes every form this resource has; `detail` names them.",
        ),
        Kind(
            "content-too-large",
            413,
            "The body is too large",
            "`detail` says how large a body may be. Split a batch into several.",
        ),
        Kind(
            "unsupported-media-type",
            415,
            "The body's type is not supported",
            "Send the `Content-Type` that `detail` names, in UTF-8 and without a content coding.",
        ),
        Kind(
            "internal-error",
            500,
            "The service failed",
            "That is a defect of percell, not of your request. Report it with the request id.",
        ),
    ]
}


class FieldError(Struct, frozen=True):
    """What is wrong with one field."""

    pointer: Annotated[
        str, Meta(description="JSON pointer (RFC 6901) to the field, in the body as it was sent.")
    ]
    detail: str


class Problem(Struct, frozen=True, kw_only=True):
    """A problem document."""

    type: Annotated[str, Meta(description="The problem type's page.")]
    title: str
    status: int
    detail: str
    errors: Annotated[
        list[FieldError] | UnsetType, Meta(description="The fields at fault, where there are any.")
    ] = UNSET
    code: Annotated[
        str | UnsetType, Meta(description="Stable name of the reason, where there is no answer.")
    ] = UNSET
    numbers: Annotated[
        dict[str, float] | UnsetType,
        Meta(description="The limiting values, each name ending in its unit."),
    ] = UNSET


class Failed(Exception):
    """A request that ends in a problem document."""

    def __init__(
        self,
        kind: str,
        detail: str,
        *,
        headers: tuple[tuple[bytes, bytes], ...] = (),
        **members: Any,
    ) -> None:
        super().__init__(detail)
        about = KINDS[kind]
        self.kind = kind
        self.status = about.status
        self.headers = headers
        self.problem = Problem(
            type=f"/problems/{kind}/",
            title=about.title,
            status=about.status,
            detail=detail,
            **members,
        )


_PLAIN = {
    "float": "a number",
    "int": "a whole number",
    "str": "text",
    "object": "an object",
    "array": "a list",
    "bool": "true or false",
    "null": "null",
}
# how msgspec words its messages: the place stands last, and what was sent may be quoted before it
_PLACE = r"(?: - at `\$((?:\.\w+|\[\d+\]|\[\.\.\.\])*)`)?"
_NAMED = re.compile(rf"Object (missing required|contains unknown) field `(.*?)`{_PLACE}", re.DOTALL)
_OTHER = re.compile(rf"(.*?){_PLACE}", re.DOTALL)
_STEP = re.compile(r"\.(\w+)|\[(\d+)\]|\[\.\.\.\]")
_TYPES = re.compile(r"`(\w+(?: \| \w+)*)`")
_WRONG_TYPE = re.compile(r"Expected `[^`]*`, got `")


def failed(
    error: Exception, asked: Any = None, *, at: str = "", unreadable: str = "unreadable-body"
) -> Failed:
    """Return the problem that a question's error stands for: ``at`` points to where it was asked."""
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
            return Failed(unreadable, "A number is larger than any that can be read.")
        return _invalid(str(error), asked, at)
    if isinstance(error, UnicodeDecodeError):
        return Failed(unreadable, "The body is not UTF-8.")
    if isinstance(error, RecursionError):
        return Failed(unreadable, "The body is nested too deeply.")
    return Failed(unreadable, str(error))


def _invalid(text: str, asked: Any, at: str) -> Failed:
    if named := _NAMED.fullmatch(text):
        pointer = f"{at}{_pointer(named[3])}/{_escaped(named[2])}"
        required = named[1] == "missing required"
        return _outside(
            pointer, "This field is required." if required else "There is no such field."
        )
    message, place = _OTHER.fullmatch(text).groups()  # type: ignore[union-attr] # it fits any text
    within = _pointer(place)
    pointer = at + within
    if message.startswith("Invalid enum value"):
        return _outside(pointer, f"{message}.{_allowed(asked, within)}")
    if "matching regex" in message:
        return _outside(
            pointer, f"The text has another form than this field takes.{_meant(asked, within)}"
        )
    plain = _TYPES.sub(lambda types: _in_words(types[1]), message) + "."
    if _WRONG_TYPE.match(message):
        return Failed(
            "wrong-type",
            f"{pointer or 'The body'}: {plain}",
            errors=[FieldError(pointer, plain)],
        )
    return _outside(pointer, plain)


def _pointer(place: str | None) -> str:
    return "".join(f"/{name or index or '-'}" for name, index in _STEP.findall(place or ""))


def _escaped(name: str) -> str:
    return name.replace("~", "~0").replace("/", "~1")


def _in_words(types: str) -> str:
    return " or ".join(_PLAIN.get(name, name) for name in types.split(" | "))


def _outside(pointer: str, message: str) -> Failed:
    return Failed(
        "outside-contract",
        f"{pointer or 'The body'}: {message}",
        errors=[FieldError(pointer, message)],
    )


def _meant(asked: Any, pointer: str) -> str:
    """Return what a field says about itself: a pattern alone tells few readers anything."""
    hint = (
        get_type_hints(asked, include_extras=True).get(pointer.removeprefix("/")) if asked else None
    )
    for part in (hint, *get_args(hint)):
        for meta in getattr(part, "__metadata__", ()):
            if isinstance(meta, Meta) and meta.pattern:
                return f" {meta.description}"
    return ""


def _allowed(asked: Any, pointer: str) -> str:
    """Return the words that a field takes."""
    hint = get_type_hints(asked).get(pointer.removeprefix("/")) if asked else None
    for part in (hint, *getattr(hint, "__args__", ())):
        if isinstance(part, type) and issubclass(part, Enum):
            return f" ChargingAllowed: {', '.join(str(word) for word in part)}."
    return ""
