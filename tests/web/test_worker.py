"""Whatever takes long is calculated beside the event loop, so that it keeps no other request waiting."""

import asyncio
import threading
from collections.abc import Callable
from typing import Any
from urllib.parse import urlencode

import httpx
import pytest

from percell.physics import spread as spreads
from percell.questions.registry import QUESTIONS
from percell.questions.vocabulary import sharing
from percell.web.app import create_app
from percell.web.worker import THREADS, beside_loop

SPREAD = {"spread": 0.17, "percentile": 0.93}
SHARING = [q for q in QUESTIONS.values() if "sharing" in q.asked.__struct_fields__]
Ask = Callable[[httpx.AsyncClient], Any]


def dotted(fields: dict[str, Any]) -> str:
    """Return a question's example with the new spread as a query."""
    plain = {name: value for name, value in fields.items() if name != "sharing"}
    return urlencode(plain | {f"sharing.{name}": value for name, value in SPREAD.items()})


def asks() -> dict[str, Ask]:
    """Return every way to ask for a spread that nobody has asked for before."""
    found: dict[str, Ask] = {}
    for q in SHARING:
        body = {**q.example, "sharing": SPREAD}
        found[f"POST {q.id}"] = lambda c, q=q, b=body: c.post(f"/v1/{q.id}", json=b)
        found[f"GET {q.id}"] = lambda c, q=q, b=body: c.get(f"/v1/{q.id}?{dotted(b)}")
        for form in ("short", "csv", "reply"):
            path = f"/v1/{form}/{q.id}?{dotted(body)}"
            found[f"{form} {q.id}"] = lambda c, path=path: c.get(path)
    first, *others = QUESTIONS["running-time-comparison"].example["setups"]
    setups = {"setups": [first | {"sharing": SPREAD}, *others]}
    found["POST running-time-comparison"] = lambda c: c.post(
        "/v1/running-time-comparison", json=setups
    )
    spread = QUESTIONS["sharing-by-spread"].example
    found["POST sharing-by-spread"] = lambda c: c.post("/v1/sharing-by-spread", json=spread)
    found["GET sharing-by-spread"] = lambda c: c.get("/v1/sharing-by-spread", params=spread)
    items = [{"question": q.id, "ask": {**q.example, "sharing": SPREAD}} for q in SHARING]
    found["batch"] = lambda c: c.post("/v1/batch", json={"items": items})
    table = {
        "question": "direct-load",
        "fixed": {"sharing": SPREAD, "coil_resistance_ohm": 0.2},
        "rows_by": {"field": "cell_rating_a", "heading": "Rating", "values": [15, 20]},
        "columns_by": [{"field": "layout", "heading": "Layout", "values": ["1S2P", "1S3P"]}],
        "prints": [{"field": "worst_cell_current_a", "heading": "Current", "round": "up"}],
    }
    found["own table"] = lambda c: c.post("/v1/tables", json=table)
    return found


ASKS = asks()


def ask_in_app(ask: Ask) -> httpx.Response:
    """Ask the application in this thread, whose event loop must not be held."""

    async def alone() -> httpx.Response:
        transport = httpx.ASGITransport(app=create_app())  # type: ignore[arg-type]
        async with httpx.AsyncClient(transport=transport, base_url="http://bench") as client:
            response: httpx.Response = await ask(client)
            return response

    return asyncio.run(alone())


def forget_draws() -> None:
    sharing.worst_cell.cache_clear()
    sharing._drawn.cache_clear()


@pytest.mark.parametrize("way", ASKS)
def test_groups_are_never_drawn_on_the_loops_thread(
    way: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A spread that nobody has asked for before is drawn in another thread, however it is asked for."""
    draw, threads = spreads.worst_cell_share_spreads, []

    def recorded(**asked: Any) -> Any:
        threads.append(threading.current_thread())
        return draw(**asked | {"draws": 1000})

    monkeypatch.setattr(spreads, "worst_cell_share_spreads", recorded)
    forget_draws()
    response = ask_in_app(ASKS[way])
    forget_draws()  # its figures are of too few draws
    assert response.status_code == 200, response.text
    assert threads
    assert threading.current_thread() not in threads


@pytest.mark.parametrize("question", [q for q in QUESTIONS.values() if q.slow or q.heavy])
def test_what_takes_long_is_never_answered_on_the_loops_thread(
    question: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A question that is slow or heavy is answered in another thread."""
    threads = []
    answer = type(question).answer

    def recorded(self: Any, *asked: Any) -> Any:
        threads.append(threading.current_thread())
        return answer(self, *asked)

    monkeypatch.setattr(type(question), "answer", recorded)
    response = ask_in_app(lambda c: c.post(f"/v1/{question.id}", json=question.example))
    assert response.status_code == 200
    assert threads
    assert threading.current_thread() not in threads


def test_what_is_short_is_answered_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """An ordinary question is answered on the loop's thread: a change of threads would cost more."""
    threads = []
    question = QUESTIONS["direct-load"]
    answer = type(question).answer

    def recorded(self: Any, *asked: Any) -> Any:
        threads.append(threading.current_thread())
        return answer(self, *asked)

    monkeypatch.setattr(type(question), "answer", recorded)
    ask_in_app(lambda c: c.post("/v1/direct-load", json=question.example))
    assert threads == [threading.current_thread()]


@pytest.mark.parametrize("form", ["/v1/running-time?", "/v1/reply/running-time?"])
def test_what_fails_beside_the_loop_is_a_problem(is_problem: Any, form: str) -> None:
    """A question without an answer is a problem document, also if another thread finds that out."""
    asked = "layout=1S2P&cell_capacity_ah=3&cell_rating_a=20&output_power_w=50&chemistry=lco"
    response = ask_in_app(lambda c: c.get(f"{form}{asked}&sharing.spread=0.17"))
    is_problem(response, "outside-contract", 422)


def test_calculations_wait_for_their_turn() -> None:
    """More calculations than threads are all done, and an error reaches the one who asked."""

    def fails() -> None:
        raise ZeroDivisionError

    async def many() -> list[Any]:
        works = [beside_loop(threading.current_thread) for _ in range(3 * THREADS)]
        return await asyncio.gather(*works, beside_loop(fails), return_exceptions=True)

    *threads, error = asyncio.run(many())
    assert isinstance(error, ZeroDivisionError)
    assert all(thread.daemon and thread.name.startswith("percell-") for thread in threads)
