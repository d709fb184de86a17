"""Examples for the API guide: a request as a reader would type it, and its real answer."""

import json
from typing import Any
from urllib.parse import urlencode

from percell_site.api import ApiError

# where a reader's own service answers
HOST = "http://127.0.0.1:8000"
# long lists that every answer carries are cut short in print, and the cut is said
_KEPT = 1


def example(document: dict[str, Any], name: str) -> str:
    """Return the example of an operation from the API's own document: ``pack``, and its answer.

    ``get-pack`` is the request by query string alone, for the answer is the same.
    """
    path = f"/v1/{name.removeprefix('get-')}"
    operations = document["paths"].get(path)
    if not operations:
        raise ApiError(f"the API document has no path {path}")
    post = operations["post"]
    body = post["requestBody"]["content"]["application/json"]["example"]
    if name.startswith("get-"):
        return f"```sh\ncurl '{HOST}{path}?{urlencode(body)}'\n```"
    answer = post["responses"]["200"]["content"]["application/json"]["example"]
    command = (
        f"curl {HOST}{path} \\\n"
        "  -H 'Content-Type: application/json' \\\n"
        f"  -d '{json.dumps(body, ensure_ascii=False)}'"
    )
    shown = json.dumps(_shortened(answer), ensure_ascii=False, indent=2)
    return f"```sh\n{command}\n```\n\n```json\n{shown}\n```"


def _shortened(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _shortened(part) for name, part in value.items()}
    if isinstance(value, list) and len(value) > _KEPT and isinstance(value[0], dict):
        return [_shortened(value[0]), f"… and {len(value) - _KEPT} more"]
    return value
