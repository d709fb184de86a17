"""A question that is well formed but contradicts itself."""


class Refused(ValueError):
    """Names the field, as a JSON pointer, and says what is wrong with it."""

    def __init__(self, field: str, detail: str) -> None:
        super().__init__(detail)
        self.pointer = "/" + field.replace(".", "/")
        self.detail = detail
