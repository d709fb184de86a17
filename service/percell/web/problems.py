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
            "Send JSON in UTF-8. The body is not JSON, is nested too deeply, or has a number that JSON "
            "cannot hold, such as NaN, Infinity or 1e400. If a key appears twice in an object, the last "
            "value wins.",
        ),
        ProblemKind(
            "malformed-request",
            400,
            "The request breaks the rules of HTTP",
            "The server cannot tell what is asked: for example there is no `Host` header or more than one, or the "
            "target holds characters that must be percent-encoded. `detail` names the fault. The connection ends.",
        ),
        ProblemKind(
            "unreadable-query",
            400,
            "The query string cannot be read",
            "Send name=value pairs in UTF-8, with percent-encoding.",
        ),
        ProblemKind(
            "wrong-type",
            400,
            "A value has the wrong type",
            'A field has the wrong type of value, such as text instead of a number. "1" in quotes is text. '
            "`errors` names the field by JSON pointer.",
        ),
        ProblemKind(
            "outside-contract",
            422,
            "A field is missing, unknown or out of bounds",
            "The request can be read, but a field is missing, unknown or out of bounds, or contradicts "
            "another one. `errors` names the first such field by JSON pointer. The API document lists the "
            "bounds of every field.",
        ),
        ProblemKind(
            "no-physical-answer",
            422,
            "No solution exists",
            "Every field is within its bounds, but no current or voltage solves the question. An example is a "
            "power above the most that the pack can deliver. `numbers` holds the limiting values.",
        ),
        ProblemKind(
            "not-found",
            404,
            "Path not found",
            "No resource has this path. Check it: paths end without a slash.",
        ),
        ProblemKind(
            "method-not-allowed",
            405,
            "Method not allowed",
            "Use a method that the `Allow` header names.",
        ),
        ProblemKind(
            "not-acceptable",
            406,
            "No acceptable media type",
            "The `Accept` header excludes every media type of this resource. Accept one that `detail` names.",
        ),
        ProblemKind(
            "request-timeout",
            408,
            "The request took too long to arrive",
            "The head or the body did not arrive within the time that the operator of this server allows. The "
            "connection ends. Send the request again.",
        ),
        ProblemKind(
            "target-too-long",
            414,
            "The path and the query are too long",
            "`detail` says how long they may be together. Ask with POST: a body may be longer.",
        ),
        ProblemKind(
            "head-too-large",
            431,
            "The head of the request is too large",
            "`detail` says how many bytes and header fields it may have. The connection ends.",
        ),
        ProblemKind(
            "content-too-large",
            413,
            "The body is too large",
            "Send less. `detail` says how large a body can be. Split a large batch.",
        ),
        ProblemKind(
            "unsupported-media-type",
            415,
            "The body's type is not supported",
            "Send the `Content-Type` that `detail` names, in UTF-8 and without a content coding.",
        ),
        ProblemKind(
            "not-implemented",
            501,
            "The method or the transfer coding is not known here",
            "`detail` names it. A path says under `Allow` which methods it takes; a body comes with a "
            "`Content-Length` or chunked.",
        ),
        ProblemKind(
            "version-not-supported",
            505,
            "This version of HTTP is not spoken here",
            "Send HTTP/1.1.",
        ),
        ProblemKind(
            "internal-error",
            500,
            "The service failed",
            "This is a defect of percell, not of your request. Report it with the request id.",
        ),
    ]
}


# the server answers so before it knows a path; the document names them for none
BEFORE_ANY_PATH = frozenset({408, 414, 431, 501, 505})


class FieldError(Struct, frozen=True):
    """One fault of the request."""

    pointer: Annotated[
        str, Meta(description="JSON pointer (RFC 6901) to the field, in the body as you sent it.")
    ]
    detail: str


class Problem(Struct, frozen=True, kw_only=True):
    """A problem document."""

    type: Annotated[str, Meta(description="Address of the page about this type of problem.")]
    title: str
    status: int
    detail: str
    errors: Annotated[
        list[FieldError] | UnsetType, Meta(description="The fields at fault, if there are any.")
    ] = UNSET
    code: Annotated[
        str | UnsetType, Meta(description="Stable name of the reason, if no solution exists.")
    ] = UNSET
    numbers: Annotated[
        dict[str, float] | UnsetType,
        Meta(description="Limiting values. Each name ends in its unit."),
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
