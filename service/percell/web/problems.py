"""Problem documents (RFC 9457): one type for each way in which a request can fail, with its page."""

from typing import Annotated, Any

from msgspec import UNSET, Meta, Struct, UnsetType

MEDIA = b"application/problem+json"


class ProblemKind(Struct, frozen=True):
    """A problem type: its page is at ``/problems/<id>/``."""

    id: str
    status: int
    title: str
    explanation: Annotated[str, Meta(description="What it means and what to do.")]


KINDS: dict[str, ProblemKind] = {
    kind.id: kind
    for kind in [
        ProblemKind(
            "unreadable-body",
            400,
            "The body cannot be read",
            "The body is not JSON in UTF-8, is nested too deeply, or holds a number that JSON has no form "
            "for, such as NaN, Infinity or 1e400. If a name appears twice in one object, the last "
            "value counts.",
        ),
        ProblemKind(
            "unreadable-query",
            400,
            "The query string cannot be read",
            "The query string is not name=value pairs in UTF-8 with percent-encoding.",
        ),
        ProblemKind(
            "wrong-type",
            400,
            "A value has the wrong type",
            'A field holds another type of value than it takes, for example text where a number belongs: "1" '
            "in quotes is text. `errors` names the field by JSON pointer.",
        ),
        ProblemKind(
            "outside-contract",
            422,
            "A field is missing, unknown or out of bounds",
            "The request is well formed, but a field is missing, is not known, lies outside its bounds or "
            "contradicts another one. `errors` names the first such field by JSON pointer. The API document "
            "gives the bounds of every field.",
        ),
        ProblemKind(
            "no-physical-answer",
            422,
            "No physical state answers the question",
            "The question is within bounds, but no current or voltage exists that would answer it: for "
            "example a power above the most the pack can deliver. `numbers` holds the limiting values.",
        ),
        ProblemKind(
            "not-found",
            404,
            "Nothing is here",
            "The path names no resource. Paths end without a slash.",
        ),
        ProblemKind(
            "method-not-allowed",
            405,
            "This method is not for this path",
            "The `Allow` header names the methods that are.",
        ),
        ProblemKind(
            "not-acceptable",
            406,
            "No acceptable form",
            "The `Accept` header excludes every form this resource has; `detail` names them.",
        ),
        ProblemKind(
            "content-too-large",
            413,
            "The body is too large",
            "`detail` says how large a body may be. Split a batch into several.",
        ),
        ProblemKind(
            "unsupported-media-type",
            415,
            "The body's type is not supported",
            "Send the `Content-Type` that `detail` names, in UTF-8 and without a content coding.",
        ),
        ProblemKind(
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


def failed_field(pointer: str, detail: str, kind: str = "outside-contract") -> Failed:
    """Return the problem of one field; without a pointer it is the body's."""
    place = pointer or "The body"
    return Failed(kind, f"{place}: {detail}", errors=[FieldError(pointer, detail)])


def escaped(name: str) -> str:
    """Return a name as a JSON Pointer writes it (RFC 6901)."""
    return name.replace("~", "~0").replace("/", "~1")
