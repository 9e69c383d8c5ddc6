"""Every example in README and docs runs and prints what the page says."""

from __future__ import annotations

import importlib.util
import json
import re
import shutil
import sys
from pathlib import Path

import pytest

from hotface_api.http import openapi
from support.programs import need_program

ROOT = Path(__file__).resolve().parents[2]
_SPEC = importlib.util.spec_from_file_location("refresh", ROOT / "docs" / "refresh.py")
refresh = importlib.util.module_from_spec(_SPEC)
sys.modules["refresh"] = refresh
_SPEC.loader.exec_module(refresh)


def test_every_example_prints_what_the_page_says():
    for tool in ("bash", "curl", "jq"):
        need_program(tool)
    told = refresh.differences(refresh.pages())
    assert not told, "\n".join(told) + "\nrun docs/refresh.py --write and read the difference"


def test_a_wrong_answer_on_a_page_is_told(tmp_path):
    page = "```python\nprint(6 * 7)\n```\n\n```text\n41\n```\n"
    new = refresh.refreshed(page, refresh.Runner("http://kiln.test", {}, tmp_path))
    assert new == page.replace("41", "42")


def test_what_one_page_writes_no_other_page_finds(tmp_path):
    count = "```bash\nhotface person list --json | jq length\n```\n\n```text\n{}\n```\n"
    enters = f"```bash\nhotface person add 'Potter of this page'\n```\n\n{count.format(1)}"
    written = tmp_path / "written.md"
    written.write_text(f"{refresh.OWN}\n\n{enters}")
    read = tmp_path / "read.md"
    read.write_text(count.format(0))
    assert refresh.differences([written, read, written]) == []


def test_readme_shows_exactly_two_set_up_commands_of_one_line():
    found = refresh.blocks((ROOT / "README.md").read_text(encoding="utf-8"))
    set_up = [block.body for block in found if "not-run" in block.info]
    assert len(set_up) == 2
    for body in set_up:
        assert body.count("\n") == 1
        assert body.startswith("python3 -m venv ")
    assert "'.[server]'" in set_up[0]
    assert set_up[0].rstrip().endswith("hotface serve")
    assert "'.[test]'" in set_up[1]
    assert set_up[1].rstrip().endswith("pytest")


def test_the_body_of_a_contribution_is_the_example_of_the_document():
    page = (ROOT / "docs" / "do" / "contribute.md").read_text(encoding="utf-8")
    (body,) = [block.body for block in refresh.blocks(page) if block.language == "json"]
    post = openapi.document()["paths"]["/v1/values"]["post"]
    assert json.loads(body) == post["requestBody"]["content"]["application/json"]["example"]


@pytest.mark.parametrize("page", refresh.pages(), ids=lambda page: page.name)
def test_links_inside_the_project_lead_somewhere(page):
    text = page.read_text(encoding="utf-8")
    for target in re.findall(r"\]\(([^)#:\s]+)(?:#[^)]*)?\)", text):
        assert (page.parent / target).exists(), f"{page.name} links to {target}"
    for path in re.findall(r"`((?:docs|dbseed|tests|api|sdk)/[\w./-]+)`", text):
        assert list(ROOT.glob(path.rstrip("/"))), f"{page.name} names {path}"


def test_the_tools_of_the_pages_are_looked_for():
    """The check above must not pass because nothing was run."""
    runnable = [b for p in refresh.pages() for b in refresh.blocks(p.read_text()) if b.runs]
    assert len(runnable) >= 5
    assert shutil.which("bash")
