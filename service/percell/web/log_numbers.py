"""The numbers of a log: their decimal mark is learnt from them, because no file says it."""

import re

from msgspec import UNSET, UnsetType

from percell.questions.bench.log_reading import DecimalMark
from percell.questions.vocabulary.refusal import Fault, FaultCode
from percell.web.log_names import quoted

# only characters of plain numbers, one number a line
_PLAIN = re.compile(r"[0-9.,+\-eE \n]*")
# a comma in a number like this may separate thousands
_LIKE_THOUSANDS = re.compile(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}")
_THOUSANDS = "Do not separate thousands."


class NotANumber(ValueError):
    """A text is no number of this log."""

    def __init__(self, detail: str, code: FaultCode = FaultCode.PATTERN) -> None:
        super().__init__(detail)
        self.detail, self.code = detail, code


class Numbers:
    """Reads the numbers of one log, all with one decimal mark."""

    def __init__(self, given: DecimalMark | UnsetType) -> None:
        self.mark: DecimalMark | None = None if given is UNSET else given
        self._is_given = self._is_sure = self.mark is not None
        # the first comma that could separate thousands
        self._doubt: Fault | None = None

    @property
    def doubt(self) -> Fault | None:
        """Return the fault of a log in which no comma was surely a decimal mark, though there were some."""
        return None if self._is_sure else self._doubt

    def many(self, texts: list[str]) -> list[float]:
        """Return plain numbers with the decimal mark of the log.

        Raises:
            ValueError: They are to be read one by one.
        """
        together = "\n".join(texts)
        if not _PLAIN.fullmatch(together):
            raise ValueError
        if "," in together:
            if self.mark is not DecimalMark.COMMA or not self._is_sure or "." in together:
                raise ValueError
            texts = together.replace(",", ".").split("\n")
        elif "." in together and self.mark is not DecimalMark.POINT:
            raise ValueError
        return [float(text) for text in texts]

    def one(self, text: str, at: str) -> float:
        """Return a number. ``at`` is the pointer to it.

        Raises:
            NotANumber: It is none, or has another decimal mark than those before.
        """
        number = text.strip()
        if _PLAIN.fullmatch(number):
            if "," in number and ("." in number or number.count(",") > 1):
                raise NotANumber(f"{quoted(text)} has two decimal marks. {_THOUSANDS}")
            if "," in number or "." in number:
                self._learn(number, at)
            number = number.replace(",", ".")
        try:
            # only Python accepts 1_000 as a number
            return float(number if number.isascii() and "_" not in number else "")
        except ValueError:
            if not number:
                raise NotANumber("No value.", FaultCode.MISSING) from None
            raise NotANumber(f"{quoted(text)} is not a number.") from None

    def _learn(self, number: str, at: str) -> None:
        """Note the decimal mark of a number."""
        mark = DecimalMark.COMMA if "," in number else DecimalMark.POINT
        if self.mark is None:
            self.mark = mark
            self._is_sure = mark is DecimalMark.POINT
        if self.mark is not mark:
            if self._is_given:
                raise NotANumber(f"{quoted(number)} is not a number with a decimal {self.mark}.")
            raise NotANumber(
                f"{quoted(number)} has a {mark}, but earlier numbers have a {self.mark}. {_THOUSANDS}"
            )
        if not self._is_sure:
            if not _LIKE_THOUSANDS.fullmatch(number):
                self._is_sure = True
            elif self._doubt is None:
                point, none = number.replace(",", "."), number.replace(",", "")
                what = f"{quoted(number)} could mean {point} or {none}. Give decimal_mark."
                self._doubt = Fault(at, what)
