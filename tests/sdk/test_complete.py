"""Whether the SDK reaches everything the service's OpenAPI document offers."""

import re

import pytest

from hotface import Mix, Musts, OnHand, Reported, _errors, own_measurement
from hotface._errors import problem_error

JUG = own_measurement("two litres from the club's bag", "scale 1 g, jug 2 L", "2026-11-20")
PERLITE = Reported(
    "expanded-perlite", "loose_bulk_density", "110", unit="kg/m3", form="heap", fill="poured"
)
LID = Mix(water="11 L").add("cac-40", "25 kg").add("expanded-perlite", "60 L")
LISTS = (
    "materials",
    "properties",
    "values",
    "sources",
    "specimens",
    "phases",
    "cones",
    "classes",
    "standards",
    "cautions",
    "revisions",
    "holdings",
)


def read_everything(db, tmp_path):
    """Call every reading method once."""
    for name in LISTS:
        assert getattr(db, name)().first()
    assert db.about().revision >= 1
    assert db.problem(db.problems()[0].code).meaning
    assert db.material("cac-40").id == "cac-40"
    definition = db.property_definition("loose_bulk_density")
    assert definition.unit == "kg/m3"
    answer = db.property("expanded-perlite", "loose_bulk_density")
    used = answer.derivation.used[0].value
    assert db.value(used).id == db.history(used)[-1].id == used
    assert db.source(answer.citations[0]).id == answer.citations[0]
    assert db.specimen(db.specimens().first()[0].id).id
    assert db.survives("cac-40", "900 degC").outcome
    assert db.survivals([("cac-40", "900 degC")])[0].outcome
    assert db.estimate(LID, fired="900 degC", at=["400 degC"]).bulk_density
    shed = [OnHand("cac-40", 0.2, 0.6), OnHand("expanded-perlite", 0, 0.8)]
    assert db.search_mixes(shed, must=Musts(), fired="900 degC", candidates=50).looked_at == 50
    assert db.cone_firings(cone="6").readings
    assert db.meltings(["CaO", "Al2O3"]).reacts
    assert db.export(tmp_path / "data.zip").stat().st_size > 10_000


def contribute_everything(owner, curator):
    """Call every method of contributions once."""
    assert owner.key_card().role == "contributor"
    options = {"licence": "CC0-1.0", "source": JUG}
    (value,) = owner.submit(PERLITE, **options).values
    assert owner.contributions().first()[0].id == value
    asked = curator.review(curator.contribution(value), "ask", "poured?")
    replied = owner.reply(asked, "yes")
    (new,) = owner.correct(replied, {**PERLITE.to_json(), "note": "again"}, "a note").values
    owner.withdraw(owner.contribution(new), "damp")
    body = {"material": "cac-perlite-castable", "name": "Lid of the small wood kiln"}
    figure = Reported("cac-perlite-castable", "bulk_density", "780", unit="kg/m3", form="body")
    receipt = owner.submit_specimen(body, figure, **options)
    curator.review_many([curator.contribution(receipt.values[0])], "decline", "no state is said")


@pytest.mark.parametrize("members", ["embedded"], indirect=True)
def test_every_operation_has_a_method(members, tmp_path):
    document = members.anyone.openapi()
    read_everything(members.anyone, tmp_path)
    contribute_everything(members.ann, members.cleo)
    offered = {
        (method.upper(), path)
        for path, operations in document["paths"].items()
        for method in operations
        if method in ("get", "post", "put", "patch", "delete")
    }
    reached = {
        (one.method, path)
        for one in members.noted.requests
        for path in document["paths"]
        if re.fullmatch(re.sub(r"\{[^/]+\}", "[^/]+", path), one.path)
    }
    assert offered - reached == set()


def test_every_problem_of_the_service_has_its_line_in_the_tree(connect):
    lines = _errors.__doc__.splitlines()
    for kind in connect().problems():
        error = problem_error(kind.status, {"status": kind.status, "code": kind.code})
        missing = kind.code in ("not_found", "method_not_allowed")  # a route this SDK asks for
        name = "OldServer" if missing else type(error).__name__
        line = next(one for one in lines if re.search(rf"── {name} ", one))
        said = str(kind.status)
        assert said in line or f"{said[0]}xx" in line, kind
