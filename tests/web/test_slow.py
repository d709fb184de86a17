"""Answers that take long keep no other request waiting, and a batch holds few of them."""

import asyncio
from typing import Any

import httpx
import numpy as np

from percell.questions.registry import QUESTIONS
from percell.web.app import create_app
from percell.web.batch import SLOW_LIMIT


def many_cells() -> dict[str, Any]:
    draws = np.random.default_rng(4).normal((3, 0.02, 4.17), (0.1, 0.002, 0.01), (200, 3))
    names = ("capacity_ah", "resistance_ohm", "open_circuit_voltage_v")
    cells = [dict(zip(names, values, strict=True)) for values in draws.tolist()]
    return {"cells": cells, "cells_in_set": 3}


def test_others_are_answered_meanwhile() -> None:
    """While 200 cells are matched, which takes a second, other requests come and go."""

    async def ask() -> tuple[int, int]:
        transport = httpx.ASGITransport(app=create_app())  # type: ignore[arg-type]
        async with httpx.AsyncClient(transport=transport, base_url="http://bench") as client:
            slow = asyncio.create_task(
                client.post("/v1/matched-sets", json=many_cells(), timeout=60)
            )
            answered = 0
            while not slow.done():
                # a client that asked without a pause would keep Python's lock from the thread
                await asyncio.sleep(0.005)
                await client.get("/healthz")
                answered += 1
            return (await slow).status_code, answered

    status, answered = asyncio.run(ask())
    assert status == 200
    # were it worked out in the way of others, none or one would have got through
    assert answered > 20


def test_a_batch_holds_few_that_take_long(post: Any) -> None:
    """Beyond the limit an item is refused by name, and the others are answered."""
    slow = {"question": "matched-sets", "ask": QUESTIONS["matched-sets"].example}
    quick = {"question": "direct-load", "ask": QUESTIONS["direct-load"].example}
    items = post("/v1/batch", {"items": [*[slow] * (SLOW_LIMIT + 2), quick]}).json()["items"]
    assert [item["status"] for item in items] == [200] * SLOW_LIMIT + [422] * 2 + [200]
    (error,) = items[SLOW_LIMIT]["problem"]["errors"]
    assert error["pointer"] == f"/items/{SLOW_LIMIT}/question"
