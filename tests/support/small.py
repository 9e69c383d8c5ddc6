"""The small invented data in a database, in one edition or two."""

from __future__ import annotations

from contextlib import contextmanager

from hotface_api.app import create_app
from hotface_api.load.loader import load
from hotface_api.settings import Settings
from hotface_api.store import schema
from hotface_api.store.database import Database
from support.databases import fresh_url
from support.packages import small_package

CHANGED = "demo-perlite.service_limit.2"
GONE = "demo-perlite.melting_temperature.1"
REPLACED = "demo-sand.service_limit.1"
REPLACING = "demo-sand.service_limit.1b"


def second_edition(rows):
    """Mend one figure in place, drop one, and replace one by another."""
    kept = []
    for row in rows:
        if row["id"] == CHANGED:
            kept.append({**row, "printed_typical": "960"})
        elif row["id"] == REPLACED:
            kept.append({**row, "id": REPLACING, "printed_typical": "1380", "replaces": REPLACED})
        elif row["id"] != GONE:
            kept.append(row)
    return kept


@contextmanager
def small_database(backend, folder, *, editions=2):
    """Load the small data, in one edition or two."""
    with fresh_url(backend, folder) as url:
        database = Database(url)
        schema.migrate(database)
        load(database, small_package(folder / "first"))
        if editions > 1:
            load(database, small_package(folder / "second", {"values": second_edition}))
        yield database
        database.close()


def app_of(database, **settings):
    """Make the application over a database."""
    url = database.url.render_as_string(hide_password=False)
    return create_app(Settings(url, **settings), database)
