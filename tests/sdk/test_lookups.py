"""The SDK against the real service: cones, oxides that meet, bodies like a mix, the export."""

import pickle
import zipfile

import pytest

from hotface import (
    BadQuantity,
    ConeFiring,
    Figure,
    InvalidRequest,
    Melting,
    MeltPoint,
    NearSpecimen,
    NotAnAnswer,
    NotFound,
    PhasePoint,
    Response,
    Row,
    Specimen,
)
from support.html import check_html
from support.scripted import client_of


def test_a_cone_has_its_temperatures(db):
    found = db.cone_firings(cone="6", series="orton-large", heating_rate="60 K/h")
    assert isinstance(found, ConeFiring)
    assert found.matches == ()
    (reading, *_) = found.readings
    assert (reading.series, reading.cone) == ("orton-large", "6")
    assert 1180 < reading.temperature.to("degC").value < 1260
    assert reading.heating_rate.to("K/h").value == pytest.approx(60)
    assert str(reading) in str(found)
    check_html(found)


def test_a_temperature_lies_between_cones(db):
    found = db.cone_firings(temperature="1200 degC", series="orton-large")
    assert found.readings == ()
    for match in found.matches:
        if match.below is not None and match.below.temperature is not None:
            assert match.below.temperature.value <= 1200
        if match.above is not None and match.above.temperature is not None:
            assert match.above.temperature.value >= 1200
    assert "is down" in str(found)
    check_html(found)
    assert found.to_dataframe().empty


def test_a_cone_or_a_temperature_is_asked_for(db):
    with pytest.raises(InvalidRequest, match="either cone or temperature"):
        db.cone_firings()
    with pytest.raises(BadQuantity, match="heating rate"):
        db.cone_firings(cone="6", heating_rate="60 K")


def test_oxides_that_meet_have_a_first_liquid(db):
    found = db.meltings(["CaO", "Al2O3", "SiO2"])
    assert isinstance(found, Melting)
    first = found.first_melt_possible_from
    assert isinstance(first, MeltPoint)
    assert isinstance(found.reacts[0], PhasePoint)
    temperatures = [one.temperature.value for one in found.reacts]
    assert temperatures == sorted(temperatures)
    cited = [one for one in found.reacts if not one.unverified and len(one.oxides) > 1]
    assert first.temperature.value >= temperatures[0]
    assert any(one.id == first.phase for one in cited)
    assert "first melt possible from" in str(found)
    check_html(found)
    assert len(found.to_dataframe()) == len(found.reacts)
    with pytest.raises(InvalidRequest, match="no point is held"):
        db.meltings(["UO2"])


def test_measured_bodies_most_like_a_mix(db):
    mix = {"cac-40": 1, "expanded-perlite": 0.5}
    near = db.specimens(near=mix, density="700 kg/m3", state="dried").all()
    assert near
    assert all(isinstance(one, NearSpecimen) for one in near)
    assert [one.distance for one in near] == sorted(one.distance for one in near)
    assert len(near) <= 5
    assert len(db.specimens(near=mix, limit=1).all()) == 1
    assert isinstance(db.specimens(q="perlite").first()[0], Specimen)
    with pytest.raises(InvalidRequest, match="no material has the id"):
        db.specimens(near={"no-such-thing": 1}).all()
    for share in (0, -1, float("nan"), True):
        with pytest.raises(BadQuantity, match="above zero"):
            db.specimens(near={"cac-40": share})


def test_the_service_tells_what_it_is(db):
    card = db.about()
    assert card.service.startswith("hotface ")
    assert card.links["materials"] == "/v1/materials"
    assert "revision 1" in str(card)
    check_html(card)
    kind = db.problem("unknown_id")
    assert kind in db.problems()
    assert str(kind).startswith("404 unknown_id: ")
    assert db.property_definition("true_density").unit == "kg/m3"
    with pytest.raises(NotFound):
        db.property_definition("true_densty")


def test_the_export_is_a_whole_data_package(db, tmp_path):
    place = db.export(tmp_path / "data.zip")
    with zipfile.ZipFile(place) as package:
        assert package.testzip() is None
        assert any(name.endswith("datapackage.json") for name in package.namelist())
    assert [one.name for one in tmp_path.iterdir()] == ["data.zip"]


@pytest.mark.parametrize("body", [b"", b"PK\x03\x04 cut", b"<html>sign in</html>"])
def test_half_an_export_leaves_the_file_as_it_was(tmp_path, body):
    place = tmp_path / "data.zip"
    place.write_bytes(b"what was here")
    client, _ = client_of(Response(200, {"content-type": "application/zip"}, body))
    with pytest.raises(NotAnAnswer, match="no whole zip") as caught:
        client.export(place)
    assert caught.value.status == 200
    assert len(caught.value.request_id) == 32
    assert place.read_bytes() == b"what was here"
    assert [one.name for one in tmp_path.iterdir()] == ["data.zip"]


def test_a_row_of_a_newer_service_is_read_as_it_comes():
    raw = {
        "name": "A member of the club",
        "age": {"value": 28, "unit": "d"},
        "span": {"low": 1, "high": 2, "unit": "mm"},
        "more": [{"class": "C"}],
    }
    row = Row.from_json(raw)
    assert row.age == row["age"] == Figure(28.0, "d")
    assert row.span.magnitudes.high == 2
    assert row.more[0].class_ == "C"
    assert list(row) == list(raw)
    assert pickle.loads(pickle.dumps(row)) == row  # noqa: S301 - our own bytes
    with pytest.raises(AttributeError, match="no column 'colour'; it has name"):
        _ = row.colour
    check_html(row)
