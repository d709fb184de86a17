"""A question that is well formed but contradicts itself."""

from typing import NamedTuple


class Fault(NamedTuple):
    """What is wrong with one field, named by a JSON pointer."""

    pointer: str
    detail: str


class Refused(ValueError):
    """Names the faulty field, as a JSON pointer, and the fault."""

    def __init__(self, field: str, detail: str) -> None:
        super().__init__(detail)
        self.faults = [Fault("/" + field.replace(".", "/"), detail)]

    @property
    def pointer(self) -> str:
        """Return the pointer of the first fault."""
        return self.faults[0].pointer

    @property
    def detail(self) -> str:
        """Return the first fault in words."""
        more = len(self.faults) - 1
        return self.faults[0].detail + (
            f" And {more} more fault{'' if more == 1 else 's'}." if more else ""
        )


class RefusedAll(Refused):
    """Names several faulty fields, in their order in the body."""

    def __init__(self, faults: list[Fault]) -> None:
        super().__init__(faults[0].pointer.removeprefix("/"), faults[0].detail)
        self.faults = faults
