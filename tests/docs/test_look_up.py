"""The reference pages are what the code says."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
_SPEC = importlib.util.spec_from_file_location("generate", ROOT / "docs" / "generate.py")
generate = importlib.util.module_from_spec(_SPEC)
sys.modules["generate"] = generate
_SPEC.loader.exec_module(generate)


def test_the_pages_are_what_the_code_says():
    assert generate.differing() == [], "run python docs/generate.py"


def test_a_page_that_lags_behind_is_named(tmp_path, monkeypatch):
    monkeypatch.setattr(generate, "TARGET", tmp_path)
    monkeypatch.setattr(generate, "written", lambda: {"settings.md": "new\n", "kept.md": "same\n"})
    (tmp_path / "settings.md").write_text("old\n")
    (tmp_path / "kept.md").write_text("same\n")
    assert generate.differing() == ["settings.md"]


def test_every_setting_the_code_reads_is_on_the_page():
    code = (ROOT / "api/hotface_api/settings.py").read_text(encoding="utf-8")
    named = {
        word
        for word in code.replace('"', " ").replace("`", " ").split()
        if word.startswith("HOTFACE_")
    }
    page = generate.settings()
    assert named
    assert all(name.rstrip(".,*") in page for name in named if name.rstrip(".,") != "HOTFACE_*")
