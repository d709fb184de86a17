"""Examples for the API guide: a request as a reader would type it, and its real answer."""

import json
from typing import Any
from urllib.parse import parse_qsl

from percell_site.api import Api

# items of a long list that are printed; a note says how many more there are
_ITEMS_PRINTED = 1


def example(api: Api, address: str, question: str) -> str:
    """Return a question as a reader would send it, and its answer.

    Args:
        api: Where to ask.
        address: The address that the pages print, without a slash at its end.
        question: Name and fields, written as a query: ``pack?layout=2S2P&cell_rating_a=20``. A field
            inside another one takes a dot. With ``get-`` before the name, the text is a GET without
            the answer, which is the same.

    Raises:
        ApiError: The API does not answer it.
    """
    name, _, query = question.partition("?")
    path = f"/v1/{name.removeprefix('get-')}"
    if name.startswith("get-"):
        api.get(f"{path}?{query}")  # fails the build if the API refuses it
        return f"```sh\ncurl '{address}{path}?{query}'\n```"
    body: dict[str, Any] = {}
    for field, text in parse_qsl(query, keep_blank_values=True):
        outer, _, inner = field.partition(".")
        if inner:
            body.setdefault(outer, {})[inner] = _value(text)
        else:
            body[outer] = _value(text)
    answer = api.post(path, body)
    command = (
        f"curl {address}{path} \\\n"
        "  -H 'Content-Type: application/json' \\\n"
        f"  -d '{json.dumps(body, ensure_ascii=False)}'"
    )
    shown = json.dumps(_shortened(answer), ensure_ascii=False, indent=2)
    return f"```sh\n{command}\n```\n\n```json\n{shown}\n```"


def _value(text: str) -> Any:
    """Return the JSON value of a text in a query: a number, or else the text."""
    try:
        return json.loads(text)
    except ValueError:
        return text


def _shortened(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _shortened(part) for name, part in value.items()}
    if isinstance(value, list) and len(value) > _ITEMS_PRINTED and isinstance(value[0], dict):
        return [_shortened(value[0]), f"… and {len(value) - _ITEMS_PRINTED} more"]
    return value
