"""A loaded ledger a test, on every database: made once, then copied or emptied, which is quick.

Fixtures for the ``conftest`` of every room that tests contributions.
"""

from __future__ import annotations

import shutil
import uuid
from typing import NamedTuple

import pytest
from sqlalchemy import create_engine, delete, insert, make_url, or_, select, text, update

from hotface_api.ledger.core import Ledger
from hotface_api.store import ledger_models as models
from hotface_api.store.base import Base
from hotface_api.store.database import Database
from support.contributions import Clock, Club, found_club, prepared, small_package
from support.databases import BACKENDS, fresh_url

__all__ = [
    "Template",
    "club",
    "emptied_template",
    "ledger_url",
    "package",
    "quiet_club",
    "template",
]


class Template(NamedTuple):
    """A database with the package and the club's people in it, and what is in its ledger."""

    url: str
    actors: tuple
    tokens: tuple
    kept: dict


@pytest.fixture(scope="session")
def package(tmp_path_factory):
    """A part of the published package that loads quickly."""
    return small_package(tmp_path_factory.mktemp("part"))


@pytest.fixture(scope="session", params=BACKENDS)
def template(request, tmp_path_factory, package):
    """A loaded database nobody connects to."""
    with fresh_url(request.param, tmp_path_factory.mktemp("template")) as url:
        database = Database(url)
        prepared(database, package)
        club = found_club(database)
        kept = {}
        with database.read() as connection:
            for model in KEPT:
                rows = connection.execute(select(model.__table__)).mappings()
                kept[model] = [dict(row) for row in rows]
        database.close()
        actors = (club.ann, club.ben, club.cleo, club.dora)
        yield Template(url, actors, club.tokens, kept)


KEPT = (models.Contributor, models.Person, models.ApiKey, models.AuditEntry)
EMPTIED = (
    models.Reply,
    models.Remark,
    models.Attribution,
    models.Contribution,
    models.Submission,
    models.RateWindow,
    models.WebSession,
)


def emptied(template):
    """Take everything back out that came after the template was made."""
    engine = create_engine(make_url(template.url).set(drivername="postgresql+psycopg"))
    with engine.begin() as connection:
        for model in (*EMPTIED, *reversed(KEPT)):
            connection.execute(delete(model.__table__))
        for model in KEPT:
            connection.execute(insert(model.__table__), template.kept[model])
        for table in Base.metadata.sorted_tables:
            if "to_revision" in table.columns:
                later = or_(table.c.from_revision > 1, table.c.from_revision.is_(None))
                connection.execute(delete(table).where(later))
                closed = table.c.to_revision > 1
                connection.execute(update(table).where(closed).values(to_revision=None))
        connection.execute(text("DELETE FROM revision WHERE number > 1"))
    engine.dispose()


@pytest.fixture
def ledger_url(template, tmp_path):
    """The address of a database that holds the package and the club's people and no more."""
    if template.url.startswith("sqlite"):
        target = tmp_path / f"{uuid.uuid4().hex}.sqlite3"
        shutil.copy(make_url(template.url).database, target)
        return f"sqlite:///{target}"
    emptied(template)
    return template.url


@pytest.fixture
def club(ledger_url, template):
    """A club with a ledger of its own."""
    database = Database(ledger_url)
    clock = Clock()
    yield Club(Ledger(database, clock=clock), clock, *template.actors, template.tokens)
    database.close()


@pytest.fixture(scope="module")
def quiet_club(template, tmp_path_factory):
    """A club for tests that write nothing: one for all of a module."""
    url = template.url
    if url.startswith("sqlite"):
        target = tmp_path_factory.mktemp("quiet") / "quiet.sqlite3"
        shutil.copy(make_url(url).database, target)
        url = f"sqlite:///{target}"
    database = Database(url)
    clock = Clock()
    yield Club(Ledger(database, clock=clock), clock, *template.actors, template.tokens)
    database.close()


@pytest.fixture
def emptied_template():
    """Give the function that empties the shared database again."""
    return emptied
