"""Write the example answers of the OpenAPI document anew, from the published data.

Run ``python docs/make_examples.py`` and then
``python -m hotface_api.http.openapi docs/openapi.json``. Each example is a real answer to the
request below, shortened: lists keep their first two members.
"""

from __future__ import annotations

import json
import re
import tempfile
from datetime import UTC, datetime, timedelta
from http import HTTPStatus
from itertools import count
from pathlib import Path
from typing import Any

import hotface_api
from hotface_api.app import create_app
from hotface_api.http.bibtex import MEDIA_TYPE as BIBTEX
from hotface_api.http.openapi import document
from hotface_api.http.routes.sources import CSL
from hotface_api.ledger.core import Ledger
from hotface_api.ledger.keys import make_key
from hotface_api.ledger.people import add_contributor
from hotface_api.load.loader import load
from hotface_api.settings import Settings
from hotface_api.store import schema
from hotface_api.store.database import Database
from hotface_seed import PACKAGE_PATH

TARGET = Path(hotface_api.__file__).parent / "http" / "examples.json"
KEPT = 2
JSON = "application/json"
SOURCE = "astm-1997-c155"
VALUE = "expanded-perlite.service_limit.1"

REQUESTS = {
    "get_cone_firings": "/v1/cone-firings?cone=6&series=orton-large",
    "get_meltings": "/v1/meltings?oxides=CaO,Al2O3,SiO2",
    "get_entrance": "/v1/",
    "list_problems": "/v1/problems",
    "get_problem": "/v1/problems/unknown_id",
    "list_materials": "/v1/materials?kind=aggregate&limit=2",
    "get_material": "/v1/materials/expanded-perlite",
    "list_properties": "/v1/properties?limit=2",
    "get_property": "/v1/properties/thermal_conductivity",
    "get_material_property": "/v1/materials/expanded-perlite/properties/thermal_conductivity",
    "get_survival": "/v1/materials/expanded-perlite/survival?temperature=1050%20Cel",
    "list_sources": "/v1/sources?limit=2",
    "get_source": f"/v1/sources/{SOURCE}",
    "list_values": "/v1/values?material=expanded-perlite&limit=1",
    "get_value": f"/v1/values/{VALUE}",
    "get_value_history": f"/v1/values/{VALUE}/history",
    "list_specimens": "/v1/specimens?constituent=expanded-perlite&limit=1",
    "get_specimen": "/v1/specimens/perlite-concrete-sheet-1-4-low",
    "list_holdings": "/v1/holdings?material=expanded-perlite",
    "list_phases": "/v1/phases?limit=1",
    "list_cones": "/v1/cones?limit=1",
    "list_classes": "/v1/classes?limit=1",
    "list_standards": "/v1/standards?limit=1",
    "list_cautions": "/v1/cautions?limit=1",
    "list_revisions": "/v1/revisions",
}


def shortened(value: Any) -> Any:
    """Keep the first members of every list."""
    if isinstance(value, list):
        return [shortened(member) for member in value[:KEPT]]
    if isinstance(value, dict):
        return {key: shortened(member) for key, member in value.items()}
    return value


def settled(value: dict[str, Any]) -> dict[str, Any]:
    """Take out what differs at every run."""
    made = dict(value)
    if "database_id" in made:
        made["database_id"] = "7c9e6679-7425-40de-944b-e07fc1f90ae7"
    if "service" in made:
        made["service"] = "hotface 1.0.0"
    for item in made.get("items", ()):
        if "made_at" in item:
            item["made_at"] = "2026-01-01T00:00:00Z"
            item["content_digest"] = "0" * 64
    return made


def computed(client: Any) -> dict[str, Any]:
    """Answer the example bodies of the POST operations."""
    found = {}
    for path, item in document()["paths"].items():
        if "post" in item and "security" not in item["post"]:
            body = item["post"]["requestBody"]["content"][JSON]["example"]
            answer = client.post(path, json=body).get_json()
            if "results" in answer:
                results = [dict(each) for each in answer["results"]]
                for each in results:
                    each["survival"] = settled(each["survival"])
                answer = {"results": results}
            for each in answer.get("mixes", ()):
                each["estimate"] = settled(each["estimate"])
            found[f"{item['post']['operationId']} {JSON}"] = shortened(settled(answer))
    return found


class _Caller:
    """Sends a key with every request, and keeps what is answered as the example of an operation."""

    def __init__(self, client: Any, token: str, found: dict[str, Any]) -> None:
        self._client, self._found = client, found
        self._key = {"Authorization": f"Bearer {token}"}

    def get(self, operation: str, url: str) -> None:
        """Read."""
        self._keep(operation, self._client.get(url, headers=self._key))

    def post(self, operation: str, version: int | None = None, **named: str) -> Any:
        """Post the operation's own example body, at a version."""
        path, told = _POSTS[operation]
        body = told["requestBody"]["content"][JSON]["example"]
        if "values" in body and "decision" in body:
            body = {**body, "values": [{"value": named["id"], "version": version}]}
        fields = {} if version is None else {"If-Match": f'"{version}"'}
        answer = self._client.post(path.format(**named), json=body, headers={**self._key, **fields})
        return self._keep(operation, answer)

    def _keep(self, operation: str, response: Any) -> Any:
        if response.status_code not in (HTTPStatus.OK, HTTPStatus.CREATED):
            raise SystemExit(f"{operation}: {response.text}")
        self._found[f"{operation} {JSON}"] = settled_ids(shortened(response.get_json()))
        return response.get_json()


_POSTS = {
    item["post"]["operationId"]: (path, item["post"])
    for path, item in document()["paths"].items()
    if "post" in item
}
_IDS = (
    (r"\bc-[0-9a-z]{12}\b", "c-7k2m9x4q1tzb"),
    (r"cursor=[A-Za-z0-9_-]+", "cursor=MzllMTQ0NmZkMjNkYy03azJtOXg0cTF0emI"),
    (r"\bs-[0-9a-z]{12}\b", "s-2d5hq8w0rn3v"),
    (r"\bp-[0-9a-z]{8}\b", "p-4c9t1xk7"),
    (r"\bhf_contributor_[0-9a-z]{12}\b", "hf_contributor_6m3zq0v8d2ks"),
    (r"\blid-of-the-small-wood-kiln-[0-9a-z]{6}\b", "lid-of-the-small-wood-kiln-8x2k4d"),
)


def settled_ids(value: Any) -> Any:
    """Put the same ids in place of those that are drawn at every run."""
    text = json.dumps(value)
    for pattern, fixed in _IDS:
        text = re.sub(pattern, fixed, text)
    return json.loads(text)


def contributed(database: Database) -> dict[str, Any]:
    """Answer the operations that ask for a key: the invented story of one contribution."""
    found: dict[str, Any] = {}
    app = create_app(Settings(str(database.url)), database)
    ledger: Ledger = app.extensions["hotface"].ledger
    minutes = count()
    ledger.clock = lambda: datetime(2026, 11, 25, 9, tzinfo=UTC) + timedelta(minutes=next(minutes))
    people = []
    for name, role in (("Pottery club", "contributor"), ("Curator", "curator")):
        card = add_contributor(ledger, name)
        token = make_key(ledger, card.contributor, role, label="the club's laptop").token
        people.append(_Caller(app.test_client(), token, found))
    club, curator = people
    value = club.post("post_values")["items"][0]["value"]
    club.post("post_specimens")
    curator.post("post_review", 1, id=value)
    club.get("get_contribution", f"/v1/contributions/{value}")
    club.post("post_reply", 2, id=value)
    club.get("list_contributions", "/v1/contributions?limit=1")
    club.get("get_key", "/v1/key")
    curator.post("post_reviews", 3, id=value)
    club.post("post_correction", 4, id=value)
    club.post("post_withdrawal", 5, id=value)
    return found


def made(client: Any) -> dict[str, Any]:
    """Answer every request."""
    found = {}
    for operation, url in REQUESTS.items():
        response = client.get(url)
        if response.status_code != HTTPStatus.OK:
            raise SystemExit(f"{url}: {response.text}")
        found[f"{operation} {JSON}"] = shortened(settled(response.get_json()))
    for operation in ("list_sources", "get_source"):
        for media in (CSL, BIBTEX):
            response = client.get(REQUESTS[operation], headers={"Accept": media})
            text = response.text if media == BIBTEX else json.loads(response.text)
            found[f"{operation} {media}"] = text
    return {**found, **computed(client)}


def main() -> None:
    """Write the file."""
    with tempfile.TemporaryDirectory() as folder:
        database = Database(f"sqlite:///{folder}/examples.sqlite3")
        schema.migrate(database)
        load(database, PACKAGE_PATH)
        client = create_app(Settings(str(database.url)), database).test_client()
        examples = {**made(client), **contributed(database)}
        database.close()
    text = json.dumps(examples, indent=1, ensure_ascii=False, sort_keys=True)
    TARGET.write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
