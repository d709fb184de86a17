"""Build the site through the API that is just starting: ``python -m percell.build_beside API FOLDER ADDRESS``."""

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


def _wait_for(api: str) -> None:
    until = time.monotonic() + _WAIT_S
    while True:
        try:
            httpx.get(f"{api}healthz", trust_env=False).raise_for_status()
        except httpx.HTTPError:
            if time.monotonic() > until:
                raise
            time.sleep(0.1)
        else:
            return


_ENDS = (signal.SIGTERM, signal.SIGINT)


def _leave(number: int, _: FrameType | None) -> None:
    for end in _ENDS:  # Ctrl-C comes from the terminal and from the server: once is enough
        signal.signal(end, signal.SIG_IGN)
    # as an exception, so that what is half built is cleared away
    sys.exit(128 + number)


if __name__ == "__main__":
    for end in _ENDS:
        signal.signal(end, _leave)
    os.nice(10)
    _wait_for(sys.argv[1])
    try:
        build_site(api=sys.argv[1], out=Path(sys.argv[2]), url=sys.argv[3])
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except httpx.TransportError as error:  # the server was stopped
        sys.exit(f"The site was not built, for the API is gone: {error}")
