"""The README shows what the service really says."""

import json
import re
from pathlib import Path
from typing import Any

from litestar.testing import TestClient

from percell.web.app import create_app

README = (Path(__file__).parents[1] / "README.md").read_text("utf-8")


def counted(answer: dict[str, Any]) -> dict[str, Any]:
    """Return an answer with its lists cut to their length, as the README prints it."""
    return {
        name: f"… {len(value)} of them" if isinstance(value, list) else value
        for name, value in answer.items()
    }


def test_the_readme_prints_the_real_answer():
    """The printed answer is the one that the printed command gets."""
    path = re.search(r"curl 'http://127\.0\.0\.1:8000([^']+)'", README)[1]
    printed = re.search(r"<!-- answer -->\n```json\n(.*?)\n```", README, re.DOTALL)[1]
    with TestClient(create_app()) as client:
        real = client.get(path).json()
    assert printed == json.dumps(counted(real), ensure_ascii=False, indent=2)
