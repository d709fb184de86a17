"""What can be wrong with a question, field by field."""

from enum import StrEnum
from typing import NamedTuple


class FaultCode(StrEnum):
    """What is wrong with a field. More may be added."""

    MISSING = "missing"
    UNKNOWN = "unknown"
    WRONG_TYPE = "wrong_type"
    NULL = "null"
    BELOW = "below"
    ABOVE = "above"
    NOT_A_WHOLE_NUMBER = "not_a_whole_number"
    NOT_ALLOWED = "not_allowed"
    PATTERN = "pattern"
    TOO_SHORT = "too_short"
    TOO_LONG = "too_long"
    TWICE = "twice"
    CONTRADICTION = "contradiction"

    @property
    def meaning(self) -> str:
        """Describe the fault."""
        return _MEANINGS[self]


_MEANINGS = {
    FaultCode.MISSING: "The field is required, or is one of several of which `detail` says how many are required.",
    FaultCode.UNKNOWN: "There is no such field. `suggestion` holds a similar name, if there is one.",
    FaultCode.WRONG_TYPE: "The value has the wrong type.",
    FaultCode.NULL: "The value is null. Leave the field out instead.",
    FaultCode.BELOW: "The number is below `limit`, the lowest one allowed.",
    FaultCode.ABOVE: "The number is above `limit`, the highest one allowed.",
    FaultCode.NOT_A_WHOLE_NUMBER: "The number must be a whole number.",
    FaultCode.NOT_ALLOWED: "The word is not one of those that `detail` lists. `suggestion` holds a similar word, "
    "if there is one.",
    FaultCode.PATTERN: "The text has the wrong form.",
    FaultCode.TOO_SHORT: "The text or the list is shorter than `limit`.",
    FaultCode.TOO_LONG: "The text or the list is longer than `limit`.",
    FaultCode.TWICE: "The query has the field twice.",
    FaultCode.CONTRADICTION: "The field contradicts another one, or needs another one.",
}


class Fault(NamedTuple):
    """What is wrong with one field, named by a JSON pointer."""

    pointer: str
    detail: str
    code: FaultCode = FaultCode.CONTRADICTION
    limit: float | None = None
    suggestion: str | None = None


class Refused(ValueError):
    """Names the faulty fields and the fault that they have in common."""

    def __init__(self, field: str, detail: str, *others: str) -> None:
        super().__init__(detail)
        self.faults = [Fault("/" + name.replace(".", "/"), detail) for name in (field, *others)]

    @property
    def pointer(self) -> str:
        """Return the pointer of the first fault."""
        return self.faults[0].pointer

    @property
    def detail(self) -> str:
        """Return the faults in words: the first of them, and how many others there are."""
        more = len({fault.detail for fault in self.faults}) - 1
        return self.faults[0].detail + (
            f" And {more} more fault{'' if more == 1 else 's'}." if more else ""
        )


class RefusedAll(Refused):
    """Names several faulty fields, in their order in the body."""

    def __init__(self, faults: list[Fault]) -> None:
        super().__init__(faults[0].pointer.removeprefix("/"), faults[0].detail)
        self.faults = faults
