"""The one exception of this layer."""


class NoSolution(ValueError):
    """No physical state answers the question.

    ``code`` is stable and names the reason; ``numbers`` holds the limiting values, each name ending
    in its unit, so that a caller can say what would have been possible.
    """

    def __init__(self, code: str, detail: str, **numbers: float) -> None:
        super().__init__(detail)
        self.code = code
        self.detail = detail
        self.numbers = numbers
