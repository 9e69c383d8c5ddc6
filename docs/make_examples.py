"""Write the example answers of the OpenAPI document anew, from the published data.

Run ``python docs/make_examples.py`` and then
``python -m hotface_api.http.openapi docs/openapi.json``. Each example is a real answer to the
request below, shortened: lists keep their first two members.
"""

from __future__ import annotations

import json
import tempfile
from http import HTTPStatus
from pathlib import Path
from typing import Any

import hotface_api
from hotface_api.app import create_app
from hotface_api.http.bibtex import MEDIA_TYPE as BIBTEX
from hotface_api.http.openapi import document
from hotface_api.http.routes.sources import CSL
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
        if "post" in item:
            body = item["post"]["requestBody"]["content"][JSON]["example"]
            answer = client.post(path, json=body).get_json()
            if "results" in answer:
                results = [dict(each) for each in answer["results"]]
                for each in results:
                    each["survival"] = settled(each["survival"])
                answer = {"results": results}
            found[f"{item['post']['operationId']} {JSON}"] = shortened(settled(answer))
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
        examples = made(client)
        database.close()
    text = json.dumps(examples, indent=1, ensure_ascii=False, sort_keys=True)
    TARGET.write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
