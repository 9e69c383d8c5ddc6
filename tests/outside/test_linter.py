"""A linter from the registry (Spectral, as ``.ci/run`` installs it) reads our OpenAPI document."""

from __future__ import annotations

import copy
import json
import subprocess
from pathlib import Path

import pytest

from hotface_api.http import openapi
from support.programs import need_program

RULES = Path(__file__).parent / "openapi-rules.yaml"


def lint(document, folder):
    """Lint a document; give what the linter found as (rule, place), hints included."""
    need_program("spectral")
    path = folder / "openapi.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    command = ["spectral", "lint", str(path), "--ruleset", str(RULES), "--format", "json"]
    done = subprocess.run(  # noqa: S603 - our own command
        [*command, "--fail-severity", "hint", "--quiet"],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    found = json.loads(done.stdout or "[]")
    assert done.returncode == (1 if found else 0), done.stderr
    return [(each["code"], ".".join(map(str, each["path"]))) for each in found]


def test_the_linter_finds_nothing(tmp_path):
    assert lint(openapi.document(), tmp_path) == []


def _wrong_example(document):
    example = document["paths"]["/v1/materials"]["get"]["responses"]["200"]["content"]
    example["application/json"]["example"]["items"] = "perlite"


def _twice_the_same_name(document):
    operations = document["paths"]
    operations["/v1/values"]["get"]["operationId"] = "list_materials"


def _says_nothing(document):
    del document["paths"]["/v1/values"]["get"]["description"]


@pytest.mark.parametrize(
    ("spoil", "rule"),
    [
        (_wrong_example, "oas3-valid-media-example"),
        (_twice_the_same_name, "operation-operationId-unique"),
        (_says_nothing, "operation-description"),
    ],
)
def test_the_linter_would_find_it(spoil, rule, tmp_path):
    document = copy.deepcopy(openapi.document())
    spoil(document)
    assert rule in {code for code, _ in lint(document, tmp_path)}
