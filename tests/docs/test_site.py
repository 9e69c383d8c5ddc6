"""The documentation builds as a site, and every link and anchor in it leads somewhere."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path
from urllib.parse import unquote, urlsplit

import html5lib
import pytest

ROOT = Path(__file__).resolve().parents[2]
KINDS = {"learn", "do", "look-up", "understand", "measure"}


def build(project, target):
    """Build the site of a project; give what the builder said and how it left."""
    command = [sys.executable, "-m", "mkdocs", "build", "--strict", "--site-dir", str(target)]
    done = subprocess.run(  # noqa: S603 - our own command
        command, cwd=project, capture_output=True, text=True, timeout=120, check=False
    )
    return done.returncode, done.stdout + done.stderr


def elements(page):
    text = page.read_text(encoding="utf-8")
    return list(html5lib.parse(text, namespaceHTMLElements=False).iter())


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    folder = tmp_path_factory.mktemp("docs") / "site"
    left, said = build(ROOT, folder)
    assert left == 0, said
    return folder


def broken(site):
    """Tell every link of a built site whose file, or the anchor in it, is not there."""
    anchors = {}
    for page in site.rglob("*.html"):
        named = ((e.get("id"), e.get("name")) for e in elements(page))
        anchors[page.resolve()] = {name for names in named for name in names if name}
    found = []
    for page in sorted(set(site.rglob("*.html")) - {site / "404.html"}):  # served from anywhere
        for element in elements(page):
            target = element.get("href") or element.get("src")
            parts = urlsplit(target or "")
            if parts.scheme in ("http", "https", "mailto") or not target:
                continue
            goal = (page.parent / unquote(parts.path)).resolve() if parts.path else page.resolve()
            goal = goal / "index.html" if goal.is_dir() else goal
            fragment = unquote(parts.fragment)
            lost = not goal.is_file() or (fragment and fragment not in anchors.get(goal, ()))
            if lost and fragment != "search":
                found.append((page.name, target))
    return found


def test_every_link_and_anchor_leads_somewhere(site):
    assert broken(site) == []


def test_a_broken_link_or_anchor_is_found(tmp_path):
    (tmp_path / "lid.html").write_text(
        '<h2 id="cast">Cast</h2><a href="#cast">here</a> <a href="collar.html#fire">there</a>'
        ' <a href="kiln.html">nowhere</a>'
    )
    (tmp_path / "collar.html").write_text('<h2 id="dry">Dry</h2><a href="lid.html#cast">lid</a>')
    assert broken(tmp_path) == [("lid.html", "collar.html#fire"), ("lid.html", "kiln.html")]


def test_every_page_is_in_the_navigation_in_its_kind(site):
    start = elements(site / "index.html")
    led = {e.get("href").split("#")[0] for e in start if e.tag == "a" and e.get("href")}
    pages = {p.relative_to(ROOT / "docs") for p in (ROOT / "docs").rglob("*.md")}
    assert {str(p.with_suffix(".html")) for p in pages} <= led
    assert {target.split("/")[0] for target in led} >= KINDS


def test_no_page_loads_anything_from_another_host(site):
    for page in site.rglob("*.html"):
        for element in elements(page):
            loaded = element.get("src") or (element.tag == "link" and element.get("href")) or ""
            assert not urlsplit(loaded).netloc, f"{page.name} loads {loaded}"


def test_lists_are_lists_and_code_is_code(site):
    """A list that follows a line of text without a gap would be run into it."""
    for page in site.rglob("*.html"):
        for element in elements(page):
            if element.tag == "p":
                lines = "".join(element.itertext()).splitlines()
                run_in = [line for line in lines[1:] if line.startswith(("- ", "* ", "1. ", "|"))]
                assert not run_in, f"{page.name}: {run_in}"
            if element.tag in ("p", "code"):
                assert "```" not in "".join(element.itertext()), page.name


@pytest.mark.parametrize(
    "spoilt",
    [
        "[away](kiln/none.md)",
        "[away](learn/first-lid.md#no-such-heading)",
        "[away](/learn/first-lid.md)",
    ],
)
def test_the_builder_refuses_a_link_that_leads_nowhere(spoilt, tmp_path):
    shutil.copy(ROOT / "mkdocs.yml", tmp_path)
    shutil.copytree(ROOT / "docs", tmp_path / "docs")
    assert build(tmp_path, tmp_path / "site")[0] == 0
    with (tmp_path / "docs" / "index.md").open("a", encoding="utf-8") as page:
        page.write(f"\n{spoilt}\n")
    left, said = build(tmp_path, tmp_path / "site")
    assert left != 0
    assert spoilt.split("(")[1].rstrip(")").split("#")[0] in said


def test_the_builder_refuses_a_page_nobody_is_led_to(tmp_path):
    shutil.copy(ROOT / "mkdocs.yml", tmp_path)
    shutil.copytree(ROOT / "docs", tmp_path / "docs")
    (tmp_path / "docs" / "do" / "forgotten.md").write_text("# Forgotten\n")
    left, said = build(tmp_path, tmp_path / "site")
    assert left != 0
    assert "forgotten.md" in said
