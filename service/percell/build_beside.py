"""Build the site through the server that is just starting: ``python -m percell.build_beside API FOLDER ADDRESS``."""

import os
import signal
import sys
import time
from pathlib import Path
from types import FrameType

import click
import httpx

from percell.site_build import build_site

_WAIT_S = 30.0
# somewhat longer than a stopping server takes to end what it has begun
_GRACE_S = 6.0
_STOP_SIGNALS = (signal.SIGTERM, signal.SIGINT)


def _wait_for(api: str) -> None:
    until = time.monotonic() + _WAIT_S
    while True:
        try:
            httpx.get(f"{api}healthz", trust_env=False).raise_for_status()
        except httpx.HTTPError as error:
            if time.monotonic() > until:
                raise click.ClickException(f"the site was not built: {api}: {error}") from error
            time.sleep(0.1)
        else:
            return


def _stop(number: int, _: FrameType | None) -> None:
    # Ctrl-C reaches this process from the terminal and again from the server: the first is enough
    for stop_signal in _STOP_SIGNALS:
        signal.signal(stop_signal, signal.SIG_IGN)
    # as an exception, which removes the half-built site
    sys.exit(128 + number)


if __name__ == "__main__":
    for stop_signal in _STOP_SIGNALS:
        signal.signal(stop_signal, _stop)
    os.nice(10)
    try:
        _wait_for(sys.argv[1])
        build_site(api=sys.argv[1], out=Path(sys.argv[2]), url=sys.argv[3])
    except click.ClickException as error:
        # a server that is stopping no longer answers: then its signal ends this process here, silently
        time.sleep(_GRACE_S)
        error.show()
        sys.exit(error.exit_code)
