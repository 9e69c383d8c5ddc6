"""Data packages for tests: the invented small one, whole or changed."""

from __future__ import annotations

import csv
import json
import shutil
from collections.abc import Callable, Mapping
from pathlib import Path

from hotface_seed import PACKAGE_PATH

SMALL = Path(__file__).parent.parent / "data" / "small"

Rows = list[dict[str, str]]
Change = Callable[[Rows], Rows]


def _read(path: Path) -> Rows:
    if not path.exists():
        return []
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _small(name: str) -> Rows:
    """Read a resource; properties the rules ask for by name come from the published list."""
    rows = _read(SMALL / f"{name}.csv")
    if name == "properties":
        held = {row["id"] for row in rows}
        published = _read(PACKAGE_PATH.parent / "properties.csv")
        rows += [row for row in published if row["id"] not in held]
    return rows


def small_package(folder: Path, changes: Mapping[str, Change] | None = None) -> Path:
    """Write the small package with today's schema, resources changed as asked; give its path."""
    folder.mkdir(parents=True, exist_ok=True)
    descriptor = json.loads(PACKAGE_PATH.read_text(encoding="utf-8"))
    for resource in descriptor["resources"]:
        name = resource["name"]
        if "schema" not in resource:
            shutil.copy(SMALL / resource["path"], folder / resource["path"])
            continue
        columns = [field["name"] for field in resource["schema"]["fields"]]
        rows = (changes or {}).get(name, list)(_small(name))
        with (folder / resource["path"]).open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, columns, restval="", lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)
    target = folder / "datapackage.json"
    target.write_text(json.dumps(descriptor), encoding="utf-8")
    return target
