"""Opening the embedded service: found by entry point, prepared, and told when it cannot be."""

import importlib.metadata
import logging
import sys
import tomllib
from pathlib import Path

import pytest
from sqlalchemy import func, select

import hotface
from hotface import Client, ConnectionFailed, NotInstalled, Request
from hotface._embedded import GROUP
from hotface_api.embedded import InProcessTransport, open_transport, prepare
from hotface_api.load.loader import loaded_revision
from hotface_api.load.package import package_digest, read_package
from hotface_api.settings import Settings
from hotface_api.store.database import Database
from hotface_api.store.models import Revision
from hotface_seed import PACKAGE_PATH
from support.contributions import newer, small_package

PROJECT = Path(__file__).parents[2] / "pyproject.toml"


@pytest.fixture
def installed(tmp_path, monkeypatch):
    """The entry points of the project, whether or not this tree was installed with pip."""
    points = tomllib.loads(PROJECT.read_text(encoding="utf-8"))["project"]["entry-points"]
    info = tmp_path / "hotface-0.0.1.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: hotface\nVersion: 0.0.1\n")
    lines = [
        f"[{group}]\n" + "".join(f"{n} = {v}\n" for n, v in named.items())
        for group, named in points.items()
    ]
    (info / "entry_points.txt").write_text("\n".join(lines))
    monkeypatch.syspath_prepend(tmp_path)


@pytest.fixture
def place(tmp_path, monkeypatch):
    """An address in the environment where no database is yet."""
    file = tmp_path / "data" / "own.sqlite3"
    monkeypatch.setenv("HOTFACE_DATABASE_URL", f"sqlite:///{file}")
    return file


def test_a_client_without_address_answers_from_this_process(installed, place):
    assert not place.exists()
    with Client() as db:
        assert db.survives("expanded-perlite", "1050 degC").outcome == "no"
        assert "embedded" in repr(db)
    assert place.exists()


def test_without_the_service_the_next_step_is_told(monkeypatch):
    monkeypatch.setattr(
        "hotface._embedded.entry_points", lambda **_: importlib.metadata.EntryPoints()
    )
    with pytest.raises(NotInstalled, match=r"pip install 'hotface\[server\]'"):
        Client()


def test_with_half_of_the_service_what_lacks_is_told(installed, monkeypatch):
    monkeypatch.setitem(sys.modules, "sqlalchemy", None)
    for name in [name for name in sys.modules if name.startswith("hotface_api")]:
        monkeypatch.delitem(sys.modules, name)
    with pytest.raises(NotInstalled, match=r"lacks sqlalchemy.*hotface\[server\]"):
        Client()
    assert issubclass(NotInstalled, ImportError)


def test_the_entry_point_names_what_is_there():
    points = tomllib.loads(PROJECT.read_text(encoding="utf-8"))["project"]["entry-points"]
    module, _, name = points[GROUP]["service"].partition(":")
    assert getattr(sys.modules[module], name) is open_transport


def test_opening_twice_loads_once(place, caplog):
    caplog.set_level(logging.INFO, "hotface.embedded")
    for _ in range(2):
        open_transport().close()
    database = Database(Settings.from_environment().database_url)
    with database.read() as connection:
        assert connection.scalar(select(func.count()).select_from(Revision)) == 1
    database.close()
    assert "revision 1" in caplog.text


def test_opening_on_data_already_loaded_reads_no_cell_and_waits_for_no_writer(
    tmp_path, monkeypatch
):
    database = Database(f"sqlite:///{tmp_path / 'a.sqlite3'}")
    assert prepare(database) == 1
    package = read_package(PACKAGE_PATH)
    with database.read() as connection:
        assert package_digest(PACKAGE_PATH) == package.digest
        assert loaded_revision(connection, PACKAGE_PATH) == 1
    monkeypatch.setattr("hotface_api.embedded.load", lambda *_: 1 / 0)
    with database.write():  # someone writes meanwhile
        assert prepare(database) == 1
    database.close()


def test_a_newer_package_is_loaded_on_opening(tmp_path, monkeypatch):
    database = Database(f"sqlite:///{tmp_path / 'a.sqlite3'}")
    assert prepare(database) == 1
    other = newer(small_package(tmp_path))
    monkeypatch.setattr("hotface_api.embedded.PACKAGE_PATH", other)
    assert prepare(database) == 2
    assert prepare(database, refresh=False) == 2
    database.close()


def test_a_database_named_by_address_is_filled_but_not_changed(place, monkeypatch):
    asked = []

    def loader(database, _descriptor, progress):
        asked.append(database)
        raise AssertionError

    open_transport().close()
    monkeypatch.setattr("hotface_api.embedded.load", loader)
    open_transport().close()
    open_transport(Settings.from_environment()).close()
    assert asked == []


def test_the_database_in_the_users_folder_follows_the_installed_data(tmp_path, monkeypatch):
    monkeypatch.delenv("HOTFACE_DATABASE_URL", raising=False)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    monkeypatch.setattr(
        "hotface_api.embedded.prepare", lambda _database, *, refresh: refresh or 1 / 0
    )
    open_transport().close()


def test_preparing_tells_how_far_it_is(tmp_path):
    database = Database(f"sqlite:///{tmp_path / 'a.sqlite3'}")
    told = []
    number = prepare(database, progress=lambda *news: told.append(news))
    assert number == 1
    assert ("materials", told[-1][1], told[-1][2]) != told[-1]
    done = {name: (count, total) for name, count, total in told}
    assert done["values"][0] == done["values"][1] > 800
    told.clear()
    assert prepare(database, progress=lambda *news: told.append(news)) == 1
    assert told == []
    database.close()


@pytest.mark.parametrize(
    ("url", "says"),
    [
        ("mysql://localhost/x", "sqlite or postgresql"),
        ("nonsense", "HOTFACE_DATABASE_URL"),
        ("sqlite://", "name a file"),
        ("sqlite:////proc/none/x.sqlite3", "cannot be made|cannot use"),
    ],
)
def test_a_database_that_cannot_be_used_is_told(monkeypatch, url, says):
    monkeypatch.setenv("HOTFACE_DATABASE_URL", url)
    with pytest.raises(ConnectionFailed, match=says) as caught:
        open_transport()
    assert caught.value.final


def test_a_file_that_is_no_database_is_told(tmp_path):
    place = tmp_path / "notes.txt"
    place.write_text("these are notes\n" * 100)
    with pytest.raises(ConnectionFailed, match="not a database"):
        open_transport(Settings(database_url=f"sqlite:///{place}"))
    assert place.read_text().startswith("these are notes")


def test_a_setting_that_makes_no_sense_is_told(monkeypatch):
    monkeypatch.setenv("HOTFACE_CACHE_ANSWERS", "many")
    with pytest.raises(ConnectionFailed, match="HOTFACE_CACHE_ANSWERS"):
        open_transport()


def test_the_call_is_a_wsgi_call():
    seen = {}
    closed = []

    class Body(list):
        def close(self):
            closed.append(True)

    def application(environ, start):
        seen.update(environ)
        seen["body"] = environ["wsgi.input"].read()
        start("200 OK", [("Content-Type", "text/plain"), ("X-A", "b")])
        return Body([b"a", b"b"])

    transport = InProcessTransport(application, closing=lambda: closed.append("transport"))
    headers = {"Accept": "x/y", "Content-Type": "application/json"}
    query = (("at", "600 Cel"), ("at", "20 Cel"))
    request = Request("POST", "/v1/estimates", query, headers, b"{}")
    response = transport.send(request)
    assert (response.status, response.headers["x-a"], response.body) == (200, "b", b"ab")
    assert seen["QUERY_STRING"] == "at=600%20Cel&at=20%20Cel"
    assert (seen["HTTP_ACCEPT"], seen["CONTENT_TYPE"]) == ("x/y", "application/json")
    assert (seen["CONTENT_LENGTH"], seen["body"]) == ("2", b"{}")
    assert transport.send(Request("GET", "/v1/materials/caf%C3%A9")).status == 200
    assert seen["PATH_INFO"].encode("latin-1").decode() == "/v1/materials/café"
    transport.close()
    transport.close()
    assert closed == [True, True, "transport"]


def test_the_sdk_knows_nothing_of_the_service_until_it_opens_it():
    assert hotface.Client.__module__ == "hotface._client"
    assert "hotface_api" not in Path(hotface._embedded.__file__).read_text(encoding="utf-8")
