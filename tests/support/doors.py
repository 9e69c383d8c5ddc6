"""The pottery club over HTTP: an application, and a client for each of its people."""

from __future__ import annotations

import copy
from dataclasses import dataclass, field

from flask.testing import FlaskClient

from hotface_api.app import create_app
from hotface_api.settings import Settings
from support.contributions import Club

OWN = {
    "own_measurement": {
        "specimen": "two litres of perlite from the club's bag",
        "instrument": "scale 1 g, jug 2 L",
        "date": "2026-11-20",
    }
}
VALUE = {
    "material": "expanded-perlite",
    "property": "loose_bulk_density",
    "printed": {"typical": "110", "unit": "kg/m3"},
    "condition": {"form": "heap", "fill": "poured"},
}


def value_body(figure="110", **changes):
    """Give a loose density of perlite as a body has it."""
    made = copy.deepcopy(VALUE)
    made["printed"]["typical"] = figure
    return {**made, **changes}


def body_of(*values, **changes):
    """Wrap values into a body of the club's own."""
    given = {"licence": "CC-BY-4.0", "source": OWN, "values": list(values or (value_body(),))}
    return {**given, **changes}


@dataclass
class Person:
    """A client that sends a key with every request."""

    client: FlaskClient
    token: str | None
    sent: dict[str, str] = field(default_factory=dict)

    def _headers(self, given):
        key = {} if self.token is None else {"Authorization": f"Bearer {self.token}"}
        return {**key, **(given or {})}

    def get(self, url, headers=None, **given):
        return self.client.get(url, headers=self._headers(headers), **given)

    def post(self, url, json=None, headers=None, **given):
        if json is not None:
            given["json"] = json
        return self.client.post(url, headers=self._headers(headers), **given)

    def act(self, value, act, json, version=1, **headers):
        """Act on a value at a version."""
        named = {"If-Match": f'"{version}"', **headers}
        return self.post(f"/v1/values/{value}/{act}", json, headers=named)

    def submits(self, *values, **changes):
        """Submit and give the ids."""
        response = self.post("/v1/values", body_of(*values, **changes))
        assert response.status_code == 201, response.text
        return [item["value"] for item in response.get_json()["items"]]


@dataclass
class Doors:
    """The application over a club's ledger, with a client for each of its people."""

    club: Club
    app: object
    ann: Person
    ben: Person
    cleo: Person
    dora: Person
    anyone: Person


def doors_of(club: Club, **settings) -> Doors:
    """Open the doors of a club's ledger; its clock is the club's."""
    url = club.database.url.render_as_string(hide_password=False)
    app = create_app(Settings(url, **settings), club.database)
    app.extensions["hotface"].ledger.clock = club.clock
    people = [Person(app.test_client(), token) for token in (*club.tokens, None)]
    return Doors(club, app, *people)
