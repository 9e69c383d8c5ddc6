"""Both sides of the HTTP benchmark in one server process: bare Flask and hotface.

Run by ``requests_ratio.py``; not of use alone.
"""

from __future__ import annotations

from flask import Flask, Response, jsonify
from werkzeug.middleware.dispatcher import DispatcherMiddleware

from hotface_api.app import create_app
from hotface_api.settings import Settings

bare = Flask("bare")


@bare.get("/hello")
def hello() -> Response:
    """Answer the least a Flask application can."""
    return jsonify(hello="kiln")


app = create_app(Settings.from_environment())
cold = create_app(
    Settings.from_environment(
        {
            "HOTFACE_CACHE_ANSWERS": "0",
            "HOTFACE_DATABASE_URL": Settings.from_environment().database_url,
        }
    )
)
application = DispatcherMiddleware(app, {"/bare": bare, "/cold": cold})
