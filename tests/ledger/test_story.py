"""A newer package over contributions: one revision, and none of them lost."""

import csv
import json
import shutil
from dataclasses import replace

import pytest

from hotface_api.catalogue.properties import property_answer
from hotface_api.ledger.check import check_audit
from hotface_api.ledger.drafts import HeldSource
from hotface_api.ledger.errors import Code, ConflictError
from hotface_api.ledger.reading import list_revisions, view
from hotface_api.ledger.review import review, withdraw
from hotface_api.ledger.submit import submit
from hotface_api.load.loader import load
from hotface_api.store.database import Database
from support.contributions import BODY, DENSITY, LID, found_club, newer, one, perlite, prepared
from support.databases import BACKENDS, fresh_url


@pytest.fixture(params=BACKENDS)
def fresh(request, tmp_path, package):
    """A club on a database of its own, and a package of its own to change."""
    own = tmp_path / "own"
    shutil.copytree(package.parent, own)
    with fresh_url(request.param, tmp_path) as url:
        database = Database(url)
        prepared(database, own / package.name)
        yield found_club(database), own / package.name
        database.close()


def edit(package, name, change):
    """Change the rows of one table of a package."""
    path = package.parent / f"{name}.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    fields = list(rows[0])
    rows = change(rows)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, fields, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def without(key):
    return lambda rows: [row for row in rows if row["id"] != key]


def drop_source(package, key):
    edit(package, "source_notes", without(key))
    path = package.parent / "sources.json"
    items = [item for item in json.loads(path.read_text(encoding="utf-8")) if item["id"] != key]
    path.write_text(json.dumps(items), encoding="utf-8")


def answer(club, material, property_, revision=None):
    cache = club.ledger.references
    reference = cache.latest() if revision is None else cache.at(revision)
    with club.ledger.read() as connection:
        return property_answer(connection, reference, material, property_)


def uncited_source(package):
    """Find a source of the package that nothing in it refers to but its own note."""
    folder = package.parent
    used = set()
    for path in folder.glob("*.csv"):
        with path.open(encoding="utf-8", newline="") as file:
            for row in csv.DictReader(file):
                used |= {row.get("source"), row.get("quoted_in")}
    with (folder / "source_notes.csv").open(encoding="utf-8", newline="") as file:
        return next(row["id"] for row in csv.DictReader(file) if row["id"] not in used)


def test_a_newer_package_is_one_revision_and_loses_no_contribution(fresh):
    club, package = fresh
    source = uncited_source(package)
    body = submit(club.ledger, club.ann, one(DENSITY, specimen=LID, material=BODY)).items[0].value
    cited = (
        submit(
            club.ledger,
            club.ann,
            one(perlite("125", source=HeldSource(source), locator="p. 7"), source=None),
        )
        .items[0]
        .value
    )
    own = submit(club.ledger, club.ann, one()).items[0].value
    pending = submit(club.ledger, club.ben, one()).items[0].value
    for value in (body, cited, own):
        review(club.ledger, club.cleo, value, "accept", version=1)
    assert club.database.revision() == 4
    before = {v: dict(view(club.ledger, club.cleo, v).row) for v in (body, cited, own, pending)}
    served = answer(club, "expanded-perlite", "loose_bulk_density")

    drop_source(package, source)  # the newer package no longer knows what one of them cites
    edit(package, "values", lambda rows: rows[1:])
    report = load(club.database, newer(package))
    assert report.changed
    assert report.revision == 5
    assert [card.kind for card in list_revisions(club.ledger, limit=2)] == ["seed", "contribution"]

    for value, row in before.items():
        assert dict(view(club.ledger, club.cleo, value).row) == row
    now = answer(club, "expanded-perlite", "loose_bulk_density")
    assert {cited, own} <= {use.value for use in now.summary.used}
    assert source in now.citations
    assert answer(club, "perlite-lid", "bulk_density").range is not None
    assert answer(club, "expanded-perlite", "loose_bulk_density", 4) == served
    assert check_audit(club.ledger).intact

    review(club.ledger, club.cleo, pending, "accept", version=1)
    withdraw(club.ledger, club.ann, cited, "misread", version=2)
    edit(package, "values", lambda rows: rows[1:])
    assert load(club.database, newer(package, "10.0.0")).changed
    assert source not in club.ledger.reference().source_types  # nothing rests on it any more
    assert check_audit(club.ledger).intact
    assert not load(club.database, package).changed


def test_a_newer_package_may_take_over_a_contributed_material(fresh):
    club, package = fresh
    value = submit(club.ledger, club.ann, one(DENSITY, specimen=LID, material=BODY)).items[0].value
    review(club.ledger, club.cleo, value, "accept", version=1)
    adopted = {
        "id": "perlite-lid",
        "name": "Perlite concrete",
        "kind": "body",
        "description": "Now published.",
    }
    edit(package, "materials", lambda rows: [*rows, {**dict.fromkeys(rows[0], ""), **adopted}])
    load(club.database, newer(package))
    assert club.ledger.reference().materials["perlite-lid"]["name"] == "Perlite concrete"
    assert answer(club, "perlite-lid", "bulk_density").range is not None
    other = replace(DENSITY, typical="801")
    again = submit(club.ledger, club.ben, one(other)).items[0].value
    assert review(club.ledger, club.cleo, again, "accept", version=1).state == "accepted"
    assert check_audit(club.ledger).intact


def test_two_who_propose_the_same_material_share_it(fresh):
    club, _ = fresh
    first = submit(club.ledger, club.ann, one(DENSITY, specimen=LID, material=BODY))
    second = submit(
        club.ledger, club.ben, one(replace(DENSITY, typical="800"), specimen=LID, material=BODY)
    )
    third = submit(
        club.ledger,
        club.ben,
        one(replace(DENSITY, typical="810"), specimen=LID, material=replace(BODY, name="Another")),
    )
    for receipt in (first, second):
        review(club.ledger, club.cleo, receipt.items[0].value, "accept", version=1)
    with pytest.raises(ConflictError) as caught:
        review(club.ledger, club.cleo, third.items[0].value, "accept", version=1)
    assert caught.value.code == Code.REFERENCE_GONE
    assert club.database.revision() == 3
