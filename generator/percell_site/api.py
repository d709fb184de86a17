"""The API, as the generator knows it: paths, JSON in, JSON out, over HTTP."""

import asyncio
from importlib import import_module
from typing import Any

import httpx

# building a site is rare, and must not fail because the API starts slowly
TIMEOUT_S = 30.0
# the API is near: to compress its answers would take longer than to send them
_PLAIN = {"accept-encoding": "identity"}


class ApiError(RuntimeError):
    """The API did not answer as the generator expects; the text is one line."""


def connect(where: str) -> "Api":
    """Return the API at a URL, or of an ASGI application named as ``module:attribute``.

    The generator asks the application through httpx too, so that it knows nothing but HTTP.

    Raises:
        ApiError: That is neither a URL nor an application.
    """
    if where.startswith(("http://", "https://")):
        try:
            # no proxy from the environment: the API is asked where it is said to be
            client = httpx.AsyncClient(
                base_url=where, timeout=TIMEOUT_S, trust_env=False, headers=_PLAIN
            )
        except httpx.InvalidURL as error:
            raise ApiError(f"{where} is not a URL: {error}") from error
        if not 0 < (client.base_url.port or 80) < 2**16:
            raise ApiError(f"{where} is not a URL: a port is a number from 1 to 65535")
        return Api(client, where)
    module, _, attribute = where.partition(":")
    try:
        app = getattr(import_module(module), attribute)
    except (ImportError, ValueError, AttributeError):
        app = None
    if not callable(app):
        raise ApiError(f"{where!r} is not a URL that starts with http:// or https://")
    transport = httpx.ASGITransport(app)
    client = httpx.AsyncClient(
        transport=transport, base_url="http://percell.invalid", headers=_PLAIN
    )
    return Api(client, where)


class Api:
    """A connection to the API. A request that brings no answer raises ``ApiError``."""

    def __init__(self, client: httpx.AsyncClient, where: str) -> None:
        self._client = client
        self._where = where
        self._loop = asyncio.new_event_loop()

    def get(self, path: str) -> bytes:
        """Return the body of a GET."""
        return self._ask("GET", path).content

    def get_json(self, path: str) -> Any:
        """Return the JSON answer to a GET."""
        return self._read(self._ask("GET", path))

    def post(self, path: str, body: Any) -> Any:
        """Return the JSON answer to a POST."""
        return self._read(self._ask("POST", path, json=body))

    def close(self) -> None:
        """Close the connection."""
        self._loop.run_until_complete(self._client.aclose())
        self._loop.close()

    def _ask(self, method: str, path: str, **options: Any) -> httpx.Response:
        try:
            response = self._loop.run_until_complete(self._client.request(method, path, **options))
        except httpx.HTTPError as error:
            why = str(error) or type(error).__name__  # a timeout has no text
            raise ApiError(f"the API at {self._where} does not answer: {why}") from error
        if response.status_code != httpx.codes.OK:
            raise ApiError(f"{path}: {response.status_code} {_fault(response)}")
        return response

    def _read(self, response: httpx.Response) -> Any:
        try:
            return response.json()
        except ValueError as error:
            raise ApiError(f"{self._where} is not percell's API: {error}") from error


def _fault(response: httpx.Response) -> str:
    """Return what went wrong in the API's own words: of each field, or as a whole."""
    if response.headers.get("content-type") != "application/problem+json":
        return " ".join(response.text.split())[:300]
    problem = response.json()
    faults = [f"{error['pointer']}: {error['detail']}" for error in problem.get("errors", [])]
    return "; ".join(faults) or str(problem["detail"])
