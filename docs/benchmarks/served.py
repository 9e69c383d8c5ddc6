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


def hotface(**settings: str) -> Flask:
    """Make the service on the database that the environment names, with settings of its own."""
    address = Settings.from_environment().database_url
    return create_app(Settings.from_environment({"HOTFACE_DATABASE_URL": address, **settings}))


app = hotface(HOTFACE_RATE_LIMITS="off")
cold = hotface(HOTFACE_RATE_LIMITS="off", HOTFACE_CACHE_ANSWERS="0")
counted = hotface(HOTFACE_RATE_LIMITS="anonymous=1000000000,key=1000000000")
application = DispatcherMiddleware(app, {"/bare": bare, "/cold": cold, "/counted": counted})
