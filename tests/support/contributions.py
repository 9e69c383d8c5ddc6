"""A pottery club that measures what it casts, for the tests of the ledger."""

from __future__ import annotations

import json
import shutil
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from hotface_api.ledger.core import Ledger
from hotface_api.ledger.drafts import (
    ConstituentDraft,
    MaterialDraft,
    OwnMeasurement,
    SpecimenDraft,
    SubmissionDraft,
    ValueDraft,
)
from hotface_api.ledger.keys import Actor, authenticate, make_key
from hotface_api.ledger.people import add_contributor
from hotface_api.load.loader import load
from hotface_api.store import schema
from hotface_api.store.database import Database
from hotface_seed import PACKAGE_PATH

SQLITE_ONLY = pytest.mark.parametrize("template", ["sqlite"], indirect=True)
LICENCE = "CC-BY-4.0"
DAY = date(2026, 11, 20)
JUG = OwnMeasurement("two litres of perlite from the club's bag", "scale 1 g, jug 2 L", DAY)
PERLITE = ValueDraft(
    material="expanded-perlite",
    property="loose_bulk_density",
    typical="110",
    unit="kg/m3",
    form="heap",
    fill="poured",
)
LID = SpecimenDraft(
    material="perlite-lid",
    name="Lid of the small wood kiln",
    state="fired",
    treatment_temperature=1273.15,
    method="weighed and measured",
    constituents=(
        ConstituentDraft(material="cac-40", part="binder", mass_percent=45.0),
        ConstituentDraft(material="expanded-perlite", part="aggregate", mass_percent=55.0),
    ),
)
BODY = MaterialDraft(
    id="perlite-lid",
    name="Perlite lid concrete",
    kind="body",
    description="Calcium aluminate cement with expanded perlite.",
)
DENSITY = ValueDraft(
    material="perlite-lid",
    property="bulk_density",
    typical="780",
    unit="kg/m3",
    form="body",
    state="fired",
)
START = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


class Clock:
    """A clock that stands where it is put."""

    def __init__(self, now=START):
        self.now = now

    def __call__(self):
        return self.now

    def forward(self, **step):
        self.now += timedelta(**step)


@dataclass
class Club:
    """A ledger with two contributors and two curators."""

    ledger: Ledger
    clock: Clock
    ann: Actor
    ben: Actor
    cleo: Actor
    dora: Actor
    tokens: tuple[str, ...] = ()
    """The keys of the four, in this order, as they are sent."""

    @property
    def database(self) -> Database:
        return self.ledger.database


def found_club(database: Database, clock=None) -> Club:
    """Enter the club's people and make their keys."""
    clock = clock or Clock()
    ledger = Ledger(database, clock=clock)
    actors, tokens = [], []
    for name, role in (
        ("Ann", "contributor"),
        ("Ben", "contributor"),
        ("Cleo", "curator"),
        ("Dora", "curator"),
    ):
        card = add_contributor(ledger, name)
        tokens.append(make_key(ledger, card.contributor, role).token)
        actors.append(authenticate(ledger, tokens[-1]))
    return Club(ledger, clock, *actors, tuple(tokens))


def perlite(figure="110", **changes) -> ValueDraft:
    """Give a loose density of perlite."""
    return replace(PERLITE, typical=figure, **changes)


def one(draft=PERLITE, **changes) -> SubmissionDraft:
    """Wrap values into a submission of the club's own."""
    values = draft if isinstance(draft, tuple) else (draft,)
    given = {"values": values, "licence": LICENCE, "source": JUG, **changes}
    return SubmissionDraft(**given)


def small_package(folder: Path, **keep) -> Path:
    """Write the published package with only some materials' values, so that loading is quick.

    ``keep`` may give ``materials``: ids whose values stay; references stay whole.
    """
    materials = keep.get("materials", ("expanded-perlite", "fireclay-brick", "cac-40"))
    target = folder / "package"
    shutil.copytree(PACKAGE_PATH.parent, target, ignore=shutil.ignore_patterns("__pycache__"))
    lines = (target / "values.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    starts = tuple(f"{material}." for material in materials)
    kept = [lines[0], *(line for line in lines[1:] if line.startswith(starts))]
    (target / "values.csv").write_text("".join(kept), encoding="utf-8")
    return target / "datapackage.json"


def newer(package: Path, version="9.9.9") -> Path:
    """Give a package another version, so that it is loaded again."""
    content = json.loads(package.read_text(encoding="utf-8"))
    content["version"] = version
    package.write_text(json.dumps(content), encoding="utf-8")
    return package


def prepared(database: Database, package: Path) -> None:
    """Migrate and load."""
    schema.migrate(database)
    load(database, package)


@contextmanager
def raised(kind, code=None):
    """Expect an error of the ledger; gives a list that holds it afterwards."""
    caught = []
    with pytest.raises(kind) as info:
        yield caught
    assert code is None or info.value.code == code, info.value.code
    caught.append(info.value)
