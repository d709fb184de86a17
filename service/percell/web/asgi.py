"""The application as servers load it, configured by the environment.

``PERCELL_SITE`` names the folder of the built site, if any, and ``PERCELL_ALLOWED_HOSTS`` the hosts.
"""

import os
from pathlib import Path

from percell.web.address import refuse_bad_address
from percell.web.app import create_app
from percell.web.hosts import AllowedHosts, allowed_hosts

try:
    refuse_bad_address()
    _hosts = allowed_hosts(os.environ)
except ValueError as error:
    raise SystemExit(f"Error: {error}") from None

_site = os.environ.get("PERCELL_SITE")
_app = create_app(Path(_site) if _site else None)
app = AllowedHosts(_app, _hosts) if _hosts else _app
