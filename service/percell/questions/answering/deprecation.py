"""That a question should no longer be asked."""

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, kw_only=True)
class Deprecation:
    """Since when a question is deprecated, until when it works, and what to ask instead.

    Attributes:
        since: First day on which it was deprecated.
        ends: First day on which it may be gone; None as long as no day is set.
        instead: What to use instead, as the end of the sentence "Use …".
    """

    since: date
    ends: date | None = None
    instead: str
