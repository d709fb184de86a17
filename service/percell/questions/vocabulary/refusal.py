"""A question that is well formed but contradicts itself."""

from typing import NamedTuple


class Fault(NamedTuple):
    """What is wrong with one field, named by a JSON pointer."""

    pointer: str
    detail: str


class Refused(ValueError):
    """Names the field, as a JSON pointer, and says what is wrong with it."""

    def __init__(self, field: str, detail: str) -> None:
        super().__init__(detail)
        self.faults = [Fault("/" + field.replace(".", "/"), detail)]

    @property
    def pointer(self) -> str:
        """Return the pointer of the first fault."""
        return self.faults[0].pointer

    @property
    def detail(self) -> str:
        """Return what is wrong first of all."""
        more = len(self.faults) - 1
        return self.faults[0].detail + (f" And {more} more faults." if more else "")


class RefusedAll(Refused):
    """Names several fields at once, in the order in which they stand."""

    def __init__(self, faults: list[Fault]) -> None:
        super().__init__(faults[0].pointer.removeprefix("/"), faults[0].detail)
        self.faults = faults
