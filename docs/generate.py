"""Write the reference pages in ``docs/look-up`` from the code and the published data.

    python docs/generate.py [--check]

``--check`` writes nothing and leaves with 1 if a page is not what the code says.
"""

from __future__ import annotations

import argparse
import inspect
import json
import sys
import tempfile
from pathlib import Path

import click

import hotface
from hotface_api.catalogue.holdings import holdings
from hotface_api.catalogue.reference import Reference, ReferenceCache
from hotface_api.cli.commands import hotface as cli
from hotface_api.http.openapi import document
from hotface_api.http.problems import Code
from hotface_api.load.loader import load
from hotface_api.settings import Settings
from hotface_api.store import schema
from hotface_api.store.database import Database
from hotface_seed import PACKAGE_PATH

TARGET = Path(__file__).parent / "look-up"
NOTE = "This page is written from the code by `docs/generate.py`; change that, not this."


def table(head: list[str], rows: list[list[str]]) -> str:
    """Write a table; bars in cells are escaped."""
    lines = [head, ["---"] * len(head), *rows]
    cells = [[cell.replace("|", "\\|").replace("\n", " ") for cell in line] for line in lines]
    return "\n".join("| " + " | ".join(line) + " |" for line in cells)


def page(title: str, *parts: str) -> str:
    """Put a page together."""
    return "\n\n".join([f"# {title}", NOTE, *parts]) + "\n"


def properties(reference: Reference) -> str:
    """Write the page of properties."""
    parts = []
    groups = sorted({row["group"] for row in reference.properties.values()})
    for group in groups:
        rows = [
            [
                f"`{key}`",
                row["definition"],
                f"`{row['unit']}`, `{row['unit_us']}`",
                row["forms"].replace(";", ", "),
                row["standard"] or "",
            ]
            for key, row in reference.properties.items()
            if row["group"] == group
        ]
        head = ["property", "what it is", "units (SI, US)", "forms", "standard"]
        parts.append(f"## {group.capitalize()}\n\n{table(head, rows)}")
    return page("Properties", *parts)


def held(database: Database, reference: Reference) -> str:
    """Write the page of holdings: what is held of each material, and what is missing."""
    lead = (
        "Each property with its number of independent origins, the forms it is held in and the"
        " highest temperature stated. What the job wants of such a material and nobody's text was"
        " found for is listed as missing, most needed first. Figures from memory do not count as"
        " held."
    )
    parts = [lead]
    with database.read() as connection:
        found = holdings(connection, reference, tuple(reference.materials))
    for holding in found:
        material = reference.materials[holding.material]
        if material["kind"] == "body" and len(holding.held) <= 1:
            continue
        rows = [
            [
                f"`{item.property}`",
                str(item.values),
                "memory only" if item.unverified else str(item.origins),
                ", ".join(item.forms),
                "" if item.up_to is None else f"{item.up_to - 273.15:.0f} °C",
            ]
            for item in holding.held
        ]
        text = [f"## {material['name']}", f"`{holding.material}`, {material['kind']}"]
        if rows:
            text.append(table(["property", "values", "origins", "forms", "up to"], rows))
        if holding.missing:
            text.append("Missing: " + ", ".join(f"`{name}`" for name in holding.missing) + ".")
        parts.append("\n\n".join(text))
    return page("Holdings", *parts)


def settings() -> str:
    """Write the page of settings from their docstring."""
    text = inspect.cleandoc(Settings.__doc__ or "")
    return page(
        "Settings",
        "The service reads these from the environment, once, when it starts.",
        f"```text\n{text}\n```",
    )


def problems() -> str:
    """Write the page of problem codes."""
    rows = [[f"`{code.name.lower()}`", str(code.status), code.title, code.meaning] for code in Code]
    lead = (
        "Every error is an `application/problem+json` document (RFC 9457). `code` is stable; `errors`"
        " points into the body or names the parameter; `request_id` is in the log too."
    )
    return page("Problems", lead, table(["code", "status", "title", "meaning"], rows))


def routes() -> str:
    """Write the page of routes from the OpenAPI document."""
    described = document()
    rows = [
        [
            f"`{method.upper()} {path}`",
            operation.get("summary", ""),
            ", ".join(
                f"`{p['name']}`" for p in operation.get("parameters", []) if p["in"] == "query"
            ),
        ]
        for path, methods in described["paths"].items()
        for method, operation in methods.items()
        if method in ("get", "post")
    ]
    lead = "The whole description is at `/v1/openapi.json`; `/v1/docs` lets you try it."
    return page("Routes", lead, table(["route", "what it does", "query parameters"], rows))


def command_line() -> str:
    """Write the page of commands from their help: the whole first, then each."""
    context = click.Context(
        cli, info_name="hotface", terminal_width=96, max_content_width=96, **cli.context_settings
    )
    told = f"```text\n{cli.get_help(context)}\n```"
    return page("Command line", told, *commands(cli, context))


def commands(group: click.Group, context: click.Context) -> list[str]:
    """Write a section for each command of a group, and for those of its groups."""
    parts = []
    for name in sorted(group.list_commands(context)):
        command = group.get_command(context, name)
        if command is None or command.hidden:
            continue
        inner = click.Context(
            command, info_name=name, parent=context, terminal_width=96, max_content_width=96
        )
        parts.append(f"## {inner.command_path}\n\n```text\n{command.get_help(inner)}\n```")
        if isinstance(command, click.Group):
            parts += commands(command, inner)
    return parts


def python() -> str:
    """Write the page of the SDK's public names."""
    rows = []
    for name in hotface.__all__:
        first = (inspect.getdoc(getattr(hotface, name)) or "").partition("\n")[0]
        rows.append([f"`{name}`", first])
    methods = [
        [f"`{name}`", (inspect.getdoc(member) or "").partition("\n")[0]]
        for name, member in inspect.getmembers(hotface.Client)
        if not name.startswith("_") and callable(member)
    ]
    return page(
        "Python names",
        table(["name", "what it is"], rows),
        "## Client",
        table(["method", "what it does"], methods),
    )


def written() -> dict[str, str]:
    """Give every page by file name."""
    with tempfile.TemporaryDirectory() as folder:
        database = Database(f"sqlite:///{folder}/pages.sqlite3")
        schema.migrate(database)
        load(database, PACKAGE_PATH)
        reference = ReferenceCache(database).latest()
        pages = {
            "holdings.md": held(database, reference),
            "properties.md": properties(reference),
        }
        database.close()
    return pages | {
        "settings.md": settings(),
        "problems.md": problems(),
        "routes.md": routes(),
        "command-line.md": command_line(),
        "python.md": python(),
    }


def differing() -> list[str]:
    """Name the pages that are not what the code says."""
    return [
        name
        for name, text in written().items()
        if not (TARGET / name).exists() or (TARGET / name).read_text(encoding="utf-8") != text
    ]


def main() -> None:
    """Write or check the pages."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--check", action="store_true")
    if parser.parse_args().check:
        found = differing()
        sys.stdout.write(json.dumps(found) + "\n")
        sys.exit(1 if found else 0)
    TARGET.mkdir(exist_ok=True)
    for name, text in written().items():
        (TARGET / name).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
