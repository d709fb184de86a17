"""The API, as the generator knows it: paths, JSON in, JSON out, over HTTP."""

import asyncio
from importlib import import_module
from typing import Any, Protocol

import httpx

# a published site is asked for seldom and must not fail for a slow start
TIMEOUT_S = 30.0


class ApiError(RuntimeError):
    """The API did not answer as the generator expects."""


class Api(Protocol):
    """Somewhere to ask."""

    def get(self, path: str) -> bytes:
        """Return the body of a GET."""

    def post(self, path: str, body: Any) -> Any:
        """Return the JSON answer to a POST."""

    def close(self) -> None:
        """Let go of the connection."""


def connect(where: str) -> Api:
    """Return the API at a URL, or of an ASGI application named as ``module:attribute``.

    The application is asked through httpx all the same: the generator knows nothing but HTTP.
    """
    if where.startswith(("http://", "https://")):
        return _Remote(where)
    module, _, attribute = where.partition(":")
    return _InProcess(getattr(import_module(module), attribute))


class _Remote:
    def __init__(self, url: str) -> None:
        # no proxy from the environment: the API is asked where it is said to be
        self._client = httpx.Client(base_url=url, timeout=TIMEOUT_S, trust_env=False)

    def get(self, path: str) -> bytes:
        return _checked(self._client.get(path))

    def post(self, path: str, body: Any) -> Any:
        response = self._client.post(path, json=body)
        _checked(response)
        return response.json()

    def close(self) -> None:
        self._client.close()


class _InProcess:
    def __init__(self, app: Any) -> None:
        self._loop = asyncio.new_event_loop()
        self._client = httpx.AsyncClient(
            transport=httpx.ASGITransport(app), base_url="http://percell.invalid"
        )

    def get(self, path: str) -> bytes:
        return _checked(self._loop.run_until_complete(self._client.get(path)))

    def post(self, path: str, body: Any) -> Any:
        response = self._loop.run_until_complete(self._client.post(path, json=body))
        _checked(response)
        return response.json()

    def close(self) -> None:
        self._loop.run_until_complete(self._client.aclose())
        self._loop.close()


def _checked(response: httpx.Response) -> bytes:
    if response.status_code != httpx.codes.OK:
        path = response.request.url.path
        raise ApiError(f"{path}: {response.status_code} {_said(response)}")
    return response.content


def _said(response: httpx.Response) -> str:
    """Return what went wrong in the API's own words: of each field, or in all."""
    if response.headers.get("content-type") != "application/problem+json":
        return response.text[:300]
    problem = response.json()
    faults = [f"{error['pointer']}: {error['detail']}" for error in problem.get("errors", [])]
    return "; ".join(faults) or str(problem["detail"])
