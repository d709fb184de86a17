"""The application as servers load it: ``PERCELL_SITE`` names the folder of the built site, if any."""

import os
from pathlib import Path

from percell.web.app import create_app

_site = os.environ.get("PERCELL_SITE")
app = create_app(Path(_site) if _site else None)
