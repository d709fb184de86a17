"""Problem documents (RFC 9457): one type for each way in which a request can fail, with its page."""

from collections.abc import Sequence
from typing import Annotated, Any

from msgspec import UNSET, Meta, Struct, UnsetType

from percell.physics.errors import REASONS
from percell.questions.vocabulary.refusal import Fault, FaultCode
from percell.web.address import configured_contact, site_address

MEDIA = b"application/problem+json"
# faults that are looked for, and those that a problem document tells
MOST_FOUND = 100
MOST_TOLD = 20


class CodeMeaning(Struct, frozen=True):
    """A code that a problem can have, for programs."""

    code: Annotated[str, Meta(description="The code.")]
    meaning: Annotated[str, Meta(description="Meaning of the code.")]
    numbers: Annotated[
        tuple[str, ...], Meta(description="Names of the limiting values, if no solution exists.")
    ]


class ProblemKind(Struct, frozen=True):
    """A problem type: its page is at `/problems/<id>/`."""

    id: str
    status: int
    title: str
    explanation: str


KINDS: dict[str, ProblemKind] = {
    kind.id: kind
    for kind in [
        ProblemKind(
            "unreadable-body",
            400,
            "The body cannot be read",
            "Send JSON in UTF-8. The body is not JSON, is nested too deeply, has too many lists and objects, or has a "
            "number that JSON cannot hold, such as NaN, Infinity or 1e400. If a key appears twice in an object, the last "
            "value wins.",
        ),
        ProblemKind(
            "malformed-request",
            400,
            "The request breaks the rules of HTTP",
            "Correct the fault that `detail` names. For example, the request has no `Host` header or more than one, or "
            "characters of its target must be percent-encoded. The connection ends.",
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
            "`errors` names every field at fault by JSON pointer, also those that are missing, unknown or out of "
            "bounds.",
        ),
        ProblemKind(
            "outside-contract",
            422,
            "A field is missing, unknown or out of bounds",
            "The request can be read, but a field is missing, unknown or out of bounds, or contradicts "
            "another one. `errors` names each such field by JSON pointer, with a code, and with the bound or a "
            "similar name if there is one. It names contradictions once everything else is right.",
        ),
        ProblemKind(
            "no-physical-answer",
            422,
            "No solution exists",
            "Every field is within its bounds, but no current or voltage solves the question. An example is a "
            "power above the most that the pack can deliver. `code` names the reason, and `numbers` holds the limiting "
            "values.",
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
            "Send the request again, faster. Its head or body did not arrive within the time that the operator of this "
            "server allows. The connection ends.",
        ),
        ProblemKind(
            "target-too-long",
            414,
            "The path and the query are too long",
            "Use POST, because a body can be longer. `detail` says how long path and query can be together.",
        ),
        ProblemKind(
            "misdirected-request",
            421,
            "This server does not answer for that host",
            "Use a host that the operator of this server names. The `Host` header names one that is not allowed.",
        ),
        ProblemKind(
            "head-too-large",
            431,
            "The head of the request is too large",
            "Send fewer bytes or header fields: `detail` names the limits. The connection ends.",
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
            "Method or transfer coding not supported",
            "`detail` names it. Use a method that `Allow` names. Send a body with a `Content-Length`, or chunked.",
        ),
        ProblemKind(
            "version-not-supported",
            505,
            "HTTP version not supported",
            "Send HTTP/1.1.",
        ),
        ProblemKind(
            "internal-error",
            500,
            "The service failed",
            "This is a defect of percell, not of your request.",
        ),
    ]
}


# the server answers so before it knows a path; the document names them for none
BEFORE_ANY_PATH = frozenset({408, 421, 431, 501, 505})


# a schema of its own, so that clients made from the document have a name for it
NO_SOLUTION_CODE: dict[str, Any] = {
    "description": "Reason why no solution exists, for programs.",
    "type": "string",
    "enum": list(REASONS),
}
_NO_SOLUTION_CODE_OR_LATER = {
    "anyOf": [{"$ref": "#/components/schemas/NoSolutionCode"}, {"type": "string"}]
}


class FieldError(Struct, frozen=True, omit_defaults=True):
    """One fault of the request."""

    pointer: Annotated[
        str,
        Meta(
            description="JSON pointer (RFC 6901) to the field, in the body as you sent it. For a query, a dot in a "
            "name becomes a slash, and entries of a list count from 0."
        ),
    ]
    code: Annotated[
        FaultCode, Meta(description="Code of the fault, for programs. The list may grow within v1.")
    ]
    detail: Annotated[str, Meta(description="The fault in words, for people.")]
    limit: Annotated[
        float | UnsetType, Meta(description="Bound that the value, text or list breaks.")
    ] = UNSET
    suggestion: Annotated[
        str | UnsetType, Meta(description="Similar name or word that is allowed.")
    ] = UNSET


class Problem(Struct, frozen=True, kw_only=True):
    """A problem document."""

    type: Annotated[
        str,
        Meta(
            description="Address of the page about this type of problem. It is a full address if the service knows "
            "its own, and a path otherwise."
        ),
    ]
    title: Annotated[str, Meta(description="Name of this type of problem.")]
    status: Annotated[int, Meta(description="HTTP status.")]
    detail: Annotated[str, Meta(description="What is wrong with this request, and what to do.")]
    request_id: Annotated[
        str, Meta(description="Id of the request, as in the header X-Request-Id. Quote it.")
    ]
    errors: Annotated[
        Annotated[list[FieldError], Meta(max_length=MOST_TOLD)] | UnsetType,
        Meta(
            description="The fields at fault, if there are any. If there are more, `detail` says how many.",
        ),
    ] = UNSET
    code: Annotated[
        Annotated[str, Meta(extra_json_schema=_NO_SOLUTION_CODE_OR_LATER)] | UnsetType,
        Meta(
            description="Reason for programs, if no solution exists. The list may grow within v1."
        ),
    ] = UNSET
    numbers: Annotated[
        dict[str, float] | UnsetType,
        Meta(description="Limiting values. Each name ends in its unit."),
    ] = UNSET


def explanation_of(kind: ProblemKind) -> str:
    """Return what a problem type means and what to do; for a defect also whom to tell."""
    if kind.status != 500:
        return kind.explanation
    told = configured_contact().removeprefix("mailto:") or "the operator of this service"
    return f"{kind.explanation} Report it to {told}, with `request_id`."


def codes_of(kind: ProblemKind) -> list[CodeMeaning]:
    """Return the codes that a problem of this type can have: of its fields, or of its reason."""
    if kind.id in ("wrong-type", "outside-contract"):
        return [CodeMeaning(code, code.meaning, ()) for code in FaultCode]
    if kind.id == "no-physical-answer":
        return [CodeMeaning(code, why.meaning, why.numbers) for code, why in REASONS.items()]
    return []


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
        self.kind = kind
        self.status = KINDS[kind].status
        self.detail = detail
        self.headers = headers
        self.members = members

    def problem(self, request_id: str) -> Problem:
        """Return the problem document."""
        about = KINDS[self.kind]
        return Problem(
            type=f"{site_address()}/problems/{self.kind}/",
            title=about.title,
            status=about.status,
            detail=self.detail,
            request_id=request_id,
            **self.members,
        )


def failed_fields(faults: Sequence[Fault]) -> Failed:
    """Return the problem of the faults of a request: of the wrong type if one of its values is."""
    first = faults[0]
    detail = f"{first.pointer or 'The body'}: {first.detail}{_more(len(faults) - 1)}"
    types = {FaultCode.WRONG_TYPE, FaultCode.NULL}
    kind = "wrong-type" if types & {fault.code for fault in faults} else "outside-contract"
    return Failed(kind, detail, errors=errors_of(faults))


def failed_field(
    pointer: str, detail: str, code: FaultCode, suggestion: str | None = None
) -> Failed:
    """Return the problem of one field; without a pointer it is the body's."""
    return failed_fields([Fault(pointer, detail, code, None, suggestion)])


def errors_of(faults: Sequence[Fault]) -> list[FieldError]:
    """Return the faults as a problem document tells them."""
    return [
        FieldError(
            fault.pointer,
            fault.code,
            fault.detail,
            UNSET if fault.limit is None else fault.limit,
            UNSET if fault.suggestion is None else fault.suggestion,
        )
        for fault in faults[:MOST_TOLD]
    ]


def _more(count: int) -> str:
    if count <= 0:
        return ""
    least = "at least " if count + 1 >= MOST_FOUND else ""
    told = f", of which `errors` lists {MOST_TOLD - 1}" if count >= MOST_TOLD else ""
    return f" And {least}{count} more fault{'' if count == 1 else 's'}{told}."


def escaped(name: str) -> str:
    """Return a name as a JSON Pointer writes it (RFC 6901)."""
    return name.replace("~", "~0").replace("/", "~1")
