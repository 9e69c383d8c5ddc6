"""Applications over the small invented data."""

from __future__ import annotations

import pytest

from support.clubs import club, ledger_url, package, quiet_club, template
from support.databases import BACKENDS
from support.small import app_of, small_database

__all__ = ["club", "ledger_url", "package", "quiet_club", "template"]


@pytest.fixture(scope="session", params=BACKENDS)
def small(request, tmp_path_factory):
    """The small data at revision 2; tests only read it."""
    with small_database(request.param, tmp_path_factory.mktemp("small")) as database:
        yield database


@pytest.fixture(scope="session")
def small_app(small):
    return app_of(small)


@pytest.fixture(scope="session")
def forgetful(small):
    """An application that keeps no answers, its small tables read."""
    app = app_of(small, cache_answers=0)
    app.test_client().get("/v1/")
    return app


@pytest.fixture
def demo(small_app):
    """A client of the small data."""
    return small_app.test_client()


@pytest.fixture
def own(tmp_path):
    """A database of one's own to change, and its application."""
    with small_database("sqlite", tmp_path, editions=1) as database:
        yield database, app_of(database)
