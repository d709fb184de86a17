"""Asks for a pack of unequal cells that a test or a source describes group by group."""

from collections.abc import Sequence
from typing import Any


def packed(groups: Sequence[Sequence[Any]]) -> dict[str, Any]:
    """Return the fields of a pack: its layout, and its cells one after the other."""
    return {
        "layout": f"{len(groups)}S{len(groups[0])}P",
        "cells": [cell for group in groups for cell in group],
    }
