"""A client written by a generator from the registry, from our document alone, does the work.

The generator is openapi-python-client. What its client makes of the answers is compared with the
very answers, member by member.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

from hotface_api.http import openapi
from support.browser import served
from support.doors import doors_of

PROGRAM = Path(__file__).parent / "use_generated_client.py"


@pytest.fixture(scope="module")
def generated(tmp_path_factory):
    """Generate the package ``kiln``; give the folder it is in and what the generator said."""
    folder = tmp_path_factory.mktemp("generated")
    (folder / "openapi.json").write_bytes(openapi.written())
    (folder / "generator.json").write_text(json.dumps({"post_hooks": []}), encoding="utf-8")
    done = subprocess.run(  # noqa: S603 - our own command
        [
            *(sys.executable, "-m", "openapi_python_client", "generate", "--meta", "none"),
            *("--path", "openapi.json", "--config", "generator.json", "--output-path", "kiln"),
        ],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return folder, done.stdout + done.stderr


def asked(address, path):
    with urllib.request.urlopen(address + path, timeout=60) as response:  # noqa: S310 - our server
        return json.load(response)


def use(folder, *arguments):
    """Run the program beside this file with the generated package."""
    done = subprocess.run(  # noqa: S603 - our own command
        [sys.executable, "-W", "error", str(PROGRAM), *arguments],
        env={**os.environ, "PYTHONPATH": str(folder)},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_the_generator_leaves_out_only_files(generated):
    """It types no CSV body and no zip, and makes the rest of both operations."""
    _, said = generated
    left_out = re.findall(r"parsing (\w+ \S+) within.*?content.type ([\w/]+)", said, re.DOTALL)
    assert set(left_out) == {("GET /v1/export", "application/zip"), ("POST /v1/values", "text/csv")}
    assert said.count("WARNING") == 2


def test_every_operation_is_generated(generated):
    folder, _ = generated
    wanted = {
        operation["operationId"]
        for item in openapi.document()["paths"].values()
        for operation in item.values()
        if isinstance(operation, dict)
    }
    made = {path.stem for path in (folder / "kiln" / "api").glob("*/*.py")}
    assert wanted <= made


def test_it_looks_up_and_estimates(generated, app):
    with served(app) as address:
        got = use(generated[0], address)
        binders = asked(address, "/v1/materials?kind=binder&limit=3")
        pages = [asked(address, link)["items"] for link in (got["next"], binders["next"])]
        brick = "/v1/materials/insulating-firebrick-23/properties/thermal_conductivity"
        answers = {
            "cement": asked(address, "/v1/materials/cac-40"),
            "property": asked(address, f"{brick}?at=600%20Cel&units=us"),
            "survival": asked(
                address, "/v1/materials/expanded-perlite/survival?temperature=1050%20Cel"
            ),
        }
        value = answers["property"]["derivation"]["used"][0]["value"]
        answers["value"] = asked(address, f"/v1/values/{value}")
        answers["estimate"] = json.loads(_estimate(app, got["estimate"]["mix"]).data)
    assert got["listed"] == [item["id"] for item in binders["items"]]
    assert pages[0] == pages[1]
    for name, answer in answers.items():
        assert got[name] == answer, name
    status, problem = got["missing"]
    assert status == 404
    assert problem["code"] == "unknown_id"
    assert "expanded-perlite" in json.dumps(problem)


def _estimate(app, mix):
    """Ask for the mix as the client sent it, which writes every default out."""
    state = {"kind": "fired", "temperature": "1000 Cel"}
    body = {"mix": mix, "state": state, "at": ["200 Cel", "600 Cel"]}
    assert [line["amount"] for line in mix["constituents"]] == ["25 kg", "60 L"]
    return app.test_client().post("/v1/estimates", json=body)


def test_it_submits_and_reviews(generated, club, tmp_path):
    """The body is the document's own example, so that what one reads there can be sent."""
    operation = openapi.document()["paths"]["/v1/values"]["post"]
    example = operation["requestBody"]["content"]["application/json"]["example"]
    body = tmp_path / "body.json"
    body.write_text(json.dumps(example), encoding="utf-8")
    with served(doors_of(club).app) as address:
        got = use(generated[0], address, str(body), club.tokens[0], club.tokens[2])
        value = got["served"]["id"]
        assert got["served"] == asked(address, f"/v1/values/{value}")
        served_before = asked(address, "/v1/values?material=expanded-perlite&revision=1&limit=200")
    assert got["role"] == "contributor"
    receipt = got["receipt"]
    assert [item["state"] for item in receipt["items"]] == ["pending"]
    assert receipt["items"][0]["told"]["words"]
    assert got["again"] == [200, {**receipt, "replayed": True}]
    assert got["mine"] == [value] == [receipt["items"][0]["value"]]
    assert got["refused"] == [401, "key_needed"]
    assert got["seen"]["state"] == "pending"
    assert got["standing"]["state"] == "accepted"
    assert got["standing"]["revision"] == receipt["revision"] + 1
    assert got["stale"] == [412, "stale_version"]
    assert got["served"]["printed"]["typical"] == example["values"][0]["printed"]["typical"]
    assert got["served"]["basis"] == "measured"
    assert value not in {item["id"] for item in served_before["items"]}
