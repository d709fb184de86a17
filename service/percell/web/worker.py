"""Threads beside the event loop for calculations that would keep other requests waiting.

The threads are daemons. A server that stops gives a request its grace time, and does not wait for a
calculation beyond that, as it would for the threads of ``asyncio.to_thread``.
"""

import asyncio
import sys
from collections.abc import Callable
from concurrent.futures import Future
from functools import cache
from queue import SimpleQueue
from threading import Thread
from typing import Any, TypeVar

Result = TypeVar("Result")
# more of them would only compete for Python's lock, also with the event loop
THREADS = 4
# seconds after which a thread that calculates in Python gives way to the event loop's: a fifth of Python's own
_GIVES_WAY_S = 0.001

_waiting: SimpleQueue[tuple[Future[Any], Callable[[], Any]]] = SimpleQueue()


async def beside_loop(calculate: Callable[[], Result]) -> Result:
    """Return what a calculation returns. It runs in another thread and waits there for its turn."""
    _start()
    future: Future[Result] = Future()
    _waiting.put((future, calculate))
    return await asyncio.wrap_future(future)


@cache
def _start() -> None:
    sys.setswitchinterval(_GIVES_WAY_S)
    for number in range(THREADS):
        Thread(target=_work, name=f"percell-{number}", daemon=True).start()


def _work() -> None:
    while True:
        future, calculate = _waiting.get()
        if future.set_running_or_notify_cancel():
            try:
                future.set_result(calculate())
            except BaseException as error:  # whatever it is, the one who asked must hear of it
                future.set_exception(error)
