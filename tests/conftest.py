"""Fixtures for every layer."""

import os
import shutil
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from typing import Any, NoReturn

import pytest
import uvicorn
from hypothesis import settings

# the same examples on every machine, and no clock: a gate must not depend on luck or load
settings.register_profile("gate", derandomize=True, deadline=None, database=None)
settings.load_profile("gate")


@pytest.fixture(scope="session")
def missing() -> Callable[[str], NoReturn]:
    """Skip what needs something that this machine does not have.

    It fails when ``PERCELL_NOTHING_SKIPPED=1``, so that a full run cannot pass by leaving checks out.
    """

    def step_aside(what: str) -> NoReturn:
        strict = os.environ.get("PERCELL_NOTHING_SKIPPED") == "1"
        (pytest.fail if strict else pytest.skip)(f"{what} is not installed")

    return step_aside


@pytest.fixture(scope="session")
def tool(missing: Callable[[str], NoReturn]) -> Callable[[str], str]:
    """Return a function that finds the path of a program, which a check against the outside needs."""

    def find(name: str) -> str:
        path = shutil.which(name)
        if path is None:
            missing(name)
        return path

    return find


Serving = Callable[..., AbstractContextManager[tuple[str, int]]]


@pytest.fixture(scope="session")
def serving() -> Serving:
    """Return a way to serve an application on a loopback port of its own, with settings of uvicorn."""

    @contextmanager
    def serve(app: Any, **config: Any) -> Iterator[tuple[str, int]]:
        with socket.create_server(("127.0.0.1", 0)) as listener:
            server = uvicorn.Server(uvicorn.Config(app, **{"log_level": "error"} | config))
            running = threading.Thread(target=server.run, kwargs={"sockets": [listener]})
            running.start()
            while not server.started:
                assert running.is_alive()
                time.sleep(0.01)
            host, port = listener.getsockname()
            try:
                yield host, port
            finally:
                server.should_exit = True
                running.join()

    return serve
