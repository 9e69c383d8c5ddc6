"""The application: settings and a database in, a WSGI callable out; nothing at import."""

from __future__ import annotations

import logging

from flask import Flask
from werkzeug.middleware.proxy_fix import ProxyFix

from hotface_api.http import wiring
from hotface_api.settings import Settings
from hotface_api.store.database import Database

__all__ = ["create_app"]


def create_app(
    settings: Settings | None = None, database: Database | None = None, *, pages: bool = True
) -> Flask:
    """Make the application.

    Parameters
    ----------
    settings : Settings, optional
        Read from the environment by default.
    database : Database, optional
        Opened from the settings by default; no connection is made before the first request, so
        that workers may be forked from one application.
    pages : bool
        Whether it serves the pages for people too. The embedded service has no use for them, and
        loading them is a good part of its start.

    Returns
    -------
    Flask
    """
    settings = settings or Settings.from_environment()
    logging.getLogger("hotface").setLevel(settings.log_level)
    app = Flask("hotface_api", static_folder=None)
    app.url_map.merge_slashes = False  # an address is matched as it stands, without redirects
    wiring.install(app, settings, database or Database(settings.database_url))
    if pages:
        from hotface_api import site  # noqa: PLC0415 - see above

        site.install(app)
    if settings.trust_proxy:
        hops = settings.trust_proxy
        app.wsgi_app = ProxyFix(  # type: ignore[method-assign]
            app.wsgi_app, x_for=hops, x_proto=hops, x_host=hops, x_prefix=hops
        )
    return app
