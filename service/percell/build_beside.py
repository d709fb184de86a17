"""Build the site through the API that is just starting: ``python -m percell.build_beside URL FOLDER``."""

import os
import sys
import time
from pathlib import Path

import httpx

from percell.site_build import build_site

_WAIT_S = 30.0


def _wait_for(api: str) -> None:
    until = time.monotonic() + _WAIT_S
    while True:
        try:
            httpx.get(f"{api}/healthz", trust_env=False).raise_for_status()
        except httpx.HTTPError:
            if time.monotonic() > until:
                raise
            time.sleep(0.1)
        else:
            return


if __name__ == "__main__":
    os.nice(10)
    _wait_for(sys.argv[1])
    build_site(api=sys.argv[1], out=Path(sys.argv[2]))
