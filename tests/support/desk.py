"""A browser without a screen at the pages for contributors and curators, and their keys."""

from __future__ import annotations

import shutil
import uuid
from contextlib import contextmanager
from dataclasses import dataclass

from sqlalchemy import create_engine, make_url, text

from hotface_api.app import create_app
from hotface_api.ledger.core import Ledger
from hotface_api.ledger.keys import make_key
from hotface_api.ledger.people import add_contributor
from hotface_api.settings import Settings
from hotface_api.store.database import Database
from support.contributions import prepared
from support.databases import SERVER, fresh_url
from support.pages import BROWSER, Shown

HOST = "http://localhost"
PEOPLE = (
    ("ann", "contributor"),
    ("ben", "contributor"),
    ("cleo", "curator"),
    ("dora", "curator"),
)
PERLITE = {
    "material": "Expanded perlite, grade not stated",
    "property": "loose_bulk_density",
    "form": "heap",
    "fill": "poured",
    "typical": "110",
    "unit": "kg/m3",
    "own_specimen": "two litres of perlite from the club's bag",
    "own_instrument": "scale 1 g, jug 2 L",
    "own_date": "2026-11-20",
    "licence": "CC-BY-4.0",
}
"""What the pottery club weighed; invented for the tests."""


@dataclass(frozen=True)
class Template:
    """A loaded database with people in it that nobody connects to, and their whole keys."""

    url: str
    keys: dict


@contextmanager
def made_template(backend, folder, package):
    """Load the package and enter the people, once."""
    with fresh_url(backend, folder) as url:
        database = Database(url)
        prepared(database, package)
        ledger = Ledger(database)
        keys = {}
        for name, role in PEOPLE:
            card = add_contributor(ledger, name.capitalize())
            keys[name] = make_key(ledger, card.contributor, role, label=name).token
        database.close()
        yield Template(url, keys)


@contextmanager
def copied(template, folder):
    """Give a copy of the template of one's own."""
    if template.url.startswith("sqlite"):
        target = folder / f"{uuid.uuid4().hex}.sqlite3"
        shutil.copy(make_url(template.url).database, target)
        yield f"sqlite:///{target}"
        return
    name = f"hotface_desk_{uuid.uuid4().hex[:12]}"
    server = make_url(SERVER).set(drivername="postgresql+psycopg")
    admin = create_engine(server, isolation_level="AUTOCOMMIT")
    with admin.connect() as connection:
        source = make_url(template.url).database
        connection.execute(text(f'CREATE DATABASE "{name}" TEMPLATE "{source}"'))
    try:
        yield make_url(SERVER).set(database=name).render_as_string(hide_password=False)
    finally:
        with admin.connect() as connection:
            connection.execute(text(f'DROP DATABASE "{name}" WITH (FORCE)'))
        admin.dispose()


class Desk:
    """The service over a database of its own, and who may come to it."""

    def __init__(self, url, keys):
        self.database = Database(url)
        self.keys = keys
        self.app = create_app(Settings(url), self.database)

    @property
    def ledger(self):
        return self.app.extensions["hotface"].ledger

    def visitor(self, name=None, **options):
        """Give somebody at a browser of their own, signed in by name."""
        found = Someone(self, **options)
        if name is not None:
            assert found.sign_in(self.keys[name]).status == 200
        return found

    def key_id(self, name):
        return self.keys[name].split("_")[2]


class Someone:
    """A browser that keeps cookies, follows redirects and sends the forms of its page."""

    def __init__(self, desk, host=HOST):
        self.desk = desk
        self.host = host
        self.client = desk.app.test_client()
        self.page = None
        self.path = ""

    def _show(self, response):
        hops = 0
        while response.status_code in (302, 303):
            assert hops < 5
            hops += 1
            self.path = response.headers["Location"]
            response = self.client.get(self.path, headers=BROWSER, base_url=self.host)
        self.page = Shown(response)
        return self.page

    def go(self, path):
        self.path = path
        return self._show(self.client.get(path, headers=BROWSER, base_url=self.host))

    def post(self, path, data, **headers):
        """Send a form of any making, as a browser on our page would."""
        sent = {**BROWSER, "Origin": self.host, **headers}
        sent = {name.replace("_", "-"): each for name, each in sent.items() if each is not None}
        return self._show(self.client.post(path, data=data, headers=sent, base_url=self.host))

    def form(self, action):
        """Find the form of the page at hand whose address ends so."""
        forms = [each for each in self.page.tree.iter("form") if each.get("method") == "post"]
        return next(each for each in forms if each.get("action").partition("?")[0].endswith(action))

    def fields(self, action):
        """Give what a browser would send of a form, with nothing pressed or typed."""
        found = {}
        for each in self.form(action).iter():
            name = each.get("name")
            if name is None or each.tag == "button":
                continue
            if each.tag == "select":
                options = list(each.iter("option"))
                chosen = [o for o in options if "selected" in o.attrib] or options[:1]
                found[name] = chosen[0].get("value") if chosen else ""
            elif each.tag == "textarea":
                found[name] = (each.text or "").replace("\n", "\r\n")
            elif each.get("type") != "file":
                found[name] = each.get("value", "")
        return found

    def send(self, action, headers=None, without=(), **typed):
        """Fill in a form of the page at hand and send it."""
        data = {**self.fields(action), **typed}
        for name in without:
            data.pop(name)
        target = self.form(action).get("action")
        return self.post(target, data, **(headers or {}))

    def sign_in(self, key, path="/sign-in"):
        self.go(path)
        return self.send("/sign-in", key=key)

    def contribute(self, **changed):
        """Check a measurement and hand it in; give its id."""
        self.go("/contribute")
        page = self.send("/contribute", act="check", **{**PERLITE, **changed})
        assert page.status == 200, page.words("body/main")
        page = self.send("/contribute", act="submit")
        assert page.status == 200, page.words("body/main")
        return self.path.partition("?")[0].rpartition("/")[2]

    def cookies(self):
        return {cookie.key: cookie for cookie in self.client._cookies.values()}
