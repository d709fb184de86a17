"""The application for a site build in the same process, which neither a host nor an address concerns."""

from percell.web.app import create_app

app = create_app()
