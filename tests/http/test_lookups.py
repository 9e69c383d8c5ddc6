"""Single look-ups and the export, over HTTP."""

from __future__ import annotations

import io
import zipfile

import pytest

from hotface_api.app import create_app
from hotface_api.load.loader import load
from hotface_api.settings import Settings
from hotface_api.store import schema
from hotface_api.store.database import Database


@pytest.fixture
def ask(database):
    app = create_app(Settings(database.url.render_as_string(hide_password=False)), database)
    return app.test_client().get


def test_a_cone_falls_later_when_heated_faster(ask):
    """A cone measures heat work: the faster the firing, the hotter its end (trade knowledge)."""
    found = ask("/v1/cone-firings?cone=6&series=orton-large").get_json()["readings"]
    cited = {
        r["heating_rate"]["value"]: r["temperature"]["value"]
        for r in found
        if r["heating_rate"] and r["source"] == "orton-2016-conechart"
    }
    rates = sorted(cited)
    assert len(rates) >= 2
    assert [cited[rate] for rate in rates] == sorted(cited.values())


def test_a_temperature_lies_between_two_neighbouring_cones(ask):
    address = "/v1/cone-firings?temperature=1100%20Cel&series=orton-large&heating_rate=60%20K/h"
    for match in ask(address).get_json()["matches"]:
        if match["below"] and match["above"]:
            assert (
                match["below"]["temperature"]["value"]
                <= 1100
                < match["above"]["temperature"]["value"]
            )


@pytest.mark.parametrize(
    "address",
    [
        "/v1/cone-firings",
        "/v1/cone-firings?cone=6&temperature=1000%20Cel",
        "/v1/cone-firings?temperature=6%20kg",
        "/v1/cone-firings?cone=",
        "/v1/meltings",
        "/v1/meltings?oxides=Unobtainium",
        "/v1/cone-firings?cone=6&heating_rate=0%20K/h",
    ],
)
def test_a_question_that_makes_no_sense_is_a_problem(ask, address):
    answer = ask(address)
    assert answer.status_code == 400
    assert answer.get_json()["errors"]


def test_lime_alumina_and_silica_first_melt_near_1170(ask):
    """Rankin and Wright 1915, as repeated in glaze texts: about 1170 Cel."""
    found = ask("/v1/meltings?oxides=CaO,Al2O3,SiO2").get_json()
    assert found["first_melt_possible_from"]["temperature"]["value"] == pytest.approx(1170, abs=1)
    points = [row["temperature"]["value"] for row in found["reacts"]]
    assert points == sorted(points)
    assert all(set(row["oxides"]) <= {"CaO", "Al2O3", "SiO2"} for row in found["reacts"])


def test_more_oxides_never_melt_later(ask):
    few = ask("/v1/meltings?oxides=CaO,Al2O3").get_json()["first_melt_possible_from"]
    more = ask("/v1/meltings?oxides=CaO,Al2O3,SiO2,FeO").get_json()["first_melt_possible_from"]
    assert more["temperature"]["value"] <= few["temperature"]["value"]


def test_the_export_loads_again(ask, tmp_path):
    answer = ask("/v1/export")
    assert answer.mimetype == "application/zip"
    assert "hotface-revision-1.zip" in answer.headers["Content-Disposition"]
    assert "values.csv" in zipfile.ZipFile(io.BytesIO(answer.data)).namelist()
    file = tmp_path / "carried.zip"
    file.write_bytes(answer.data)
    other = Database(f"sqlite:///{tmp_path / 'other.sqlite3'}")
    schema.migrate(other)
    assert load(other, file).opened > 7000
    other.close()
    again = ask("/v1/export", headers={"If-None-Match": answer.headers["ETag"]})
    assert again.status_code == 304
