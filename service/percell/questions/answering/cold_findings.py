"""Findings about the cold, in which a cell has several times its usual resistance."""

from percell.physics.meter import NOISE
from percell.questions.answering import rules
from percell.questions.vocabulary.rules import Finding, finding
from percell.questions.vocabulary.wording import given

# from here on down the resistance is clearly higher than the figures count
COLD_C = 10.0


def cold_findings(ambient_c: float) -> list[Finding]:
    """Return the finding about air so cold that figures for usual air are too low."""
    if ambient_c >= COLD_C - NOISE * COLD_C:
        return []
    return [
        finding(
            rules.COLD,
            f"In air of {given(ambient_c)} °C a cell has several times the resistance that it has at 25 °C: measured "
            "cells had 2.1 times at 0 °C, 3.4 times at −10 °C and 5.5 times at −20 °C. The figures do not count "
            "that.",
        )
    ]
