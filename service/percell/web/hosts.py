"""The hosts that the service answers for."""

import re
from collections.abc import Mapping

from litestar.config.allowed_hosts import AllowedHostsConfig
from litestar.enums import ScopeType
from litestar.middleware.allowed_hosts import AllowedHostsMiddleware
from litestar.types import ASGIApp, Receive, Scope, Send

from percell.web.address import HOST
from percell.web.problems import Failed
from percell.web.resource import send_problem

# a load balancer asks for the health by the server's own number
_FOR_ANY_HOST = "/healthz"
_ALLOWED = re.compile(rf"\*|(?:\*\.)?{HOST}(?::\d+)?")


def allowed_hosts(environment: Mapping[str, str]) -> AllowedHostsConfig | None:
    """Return the hosts of ``PERCELL_ALLOWED_HOSTS``, separated by commas; None if it names none.

    Raises:
        ValueError: That is no host, or it has a star, but not for all its subdomains.
    """
    named = environment.get("PERCELL_ALLOWED_HOSTS", "")
    hosts = [host.strip().lower() for host in named.split(",") if host.strip()]
    if not all(map(_ALLOWED.fullmatch, hosts)):
        raise ValueError(
            f"PERCELL_ALLOWED_HOSTS is {named!r}: give hosts such as example.org, or *.example.org"
        )
    return AllowedHostsConfig(hosts, www_redirect=False) if hosts else None


class AllowedHosts(AllowedHostsMiddleware):
    """Litestar's check of the ``Host`` header, which answers with a problem document."""

    def __init__(self, app: ASGIApp, config: AllowedHostsConfig) -> None:
        super().__init__(app=app, config=config)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse a request for another host."""
        if scope["type"] != ScopeType.HTTP or scope["path"] == _FOR_ANY_HOST or self._takes(scope):
            await self.app(scope, receive, send)
            return
        failure = Failed(
            "misdirected-request", "This server does not answer for the host of the request."
        )
        await send_problem(scope, send, failure)

    def _takes(self, scope: Scope) -> bool:
        host = next((value for name, value in scope["headers"] if name == b"host"), b"")
        allowed = self.allowed_hosts_regex
        return allowed is None or bool(allowed.fullmatch(host.decode("latin-1").lower()))
