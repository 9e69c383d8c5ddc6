"""Pages of the whole seed, asked for the way a browser asks."""

from __future__ import annotations

import pytest

from support.contributions import small_package
from support.databases import BACKENDS
from support.desk import Desk, copied, made_template
from support.pages import BROWSER, Shown


@pytest.fixture
def show(client):
    """Ask for a page and parse it."""
    return lambda address, **headers: Shown(client.get(address, headers={**BROWSER, **headers}))


@pytest.fixture(scope="session")
def desk_package(tmp_path_factory):
    """A part of the published package that loads quickly."""
    return small_package(tmp_path_factory.mktemp("desk-package"))


@pytest.fixture(scope="session", params=BACKENDS)
def desk_template(request, tmp_path_factory, desk_package):
    """A loaded database with contributors and curators, on every database."""
    folder = tmp_path_factory.mktemp("desk-template")
    with made_template(request.param, folder, desk_package) as template:
        yield template


@pytest.fixture
def desk(desk_template, tmp_path):
    """The pages for contributors and curators over a database of their own."""
    with copied(desk_template, tmp_path) as url:
        found = Desk(url, desk_template.keys)
        yield found
        found.database.close()


@pytest.fixture(scope="session")
def quiet_desk(tmp_path_factory, desk_package):
    """One desk, on SQLite, for tests that hand in nothing."""
    folder = tmp_path_factory.mktemp("quiet-desk")
    with made_template("sqlite", folder, desk_package) as template:
        found = Desk(template.url, template.keys)
        yield found
        found.database.close()
