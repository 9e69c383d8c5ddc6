"""The SDK against the real service: mixes worth trying."""

import pickle

import pytest

from hotface import (
    BadQuantity,
    Client,
    EstimateRequest,
    InvalidRequest,
    MixSearch,
    Musts,
    NotAllowed,
    NotAnAnswer,
    OnHand,
    WorthTrying,
)
from hotface_api.embedded import InProcessTransport
from support.html import check_html

SHED = (
    OnHand("cac-40", 0.15, 0.6),
    OnHand("expanded-clay", 0, 0.8, fill="poured"),
    OnHand("expanded-perlite", 0, 0.5),
)
MUST = Musts(
    density_below="1200 kg/m3", conductivity_below="0.4 W/(m.K)", conductivity_at="600 degC"
)
ASKED = {
    "must": MUST,
    "wishes": ["conductivity", "binder"],
    "fired": "1000 degC",
    "at": ["200 degC", "600 degC"],
    "shares_by": "mass",
    "candidates": 600,
    "results": 3,
}


@pytest.fixture(scope="session")
def found(service):
    return Client(transport=InProcessTransport(service)).search_mixes(SHED, **ASKED)


def test_mixes_worth_trying_come_with_their_estimates(db, found):
    again = db.search_mixes(SHED, **ASKED)
    assert isinstance(again, MixSearch)
    assert again.to_json() == found.to_json()
    assert 1 <= len(again) <= 3
    assert again.looked_at == 600
    assert 0 < again.met["density"] <= 600
    for one in again:
        assert isinstance(one, WorthTrying)
        assert one.estimate.bulk_density.magnitudes.typical < 1200
        assert one.estimate.thermal_conductivity.function()(600) < 0.4
        assert sum(one.shares().values()) == pytest.approx(1)
        assert set(one.amounts()) <= {each.material for each in SHED}


def test_its_request_gives_the_same_estimate_again(db, found):
    first = found[0]
    assert isinstance(first.request, EstimateRequest)
    again = db.estimate(first.request)
    assert again.bulk_density == first.estimate.bulk_density
    assert again.thermal_conductivity == first.estimate.thermal_conductivity


def test_it_reads_in_a_terminal_a_notebook_and_a_frame(found):
    assert f"{len(found)} mixes worth trying of 600 looked at" in str(found)
    page = check_html(found)
    assert "<svg" in page
    assert "<desc" in page
    frame = found.to_dataframe()
    assert len(frame) == len(found)
    typical = [one.estimate.bulk_density.magnitudes.typical for one in found]
    assert list(frame["bulk_density_typical"]) == typical
    assert "thermal_conductivity_at_600_Cel_high" in frame.columns
    shares = frame.filter(like="share of ").sum(axis=1)
    assert list(shares) == pytest.approx([1.0] * len(found))


def test_its_figure_shows_every_mix_by_number(found):
    figure = found.figure()
    (axes,) = figure.axes
    assert [each.get_text() for each in axes.texts] == [str(n + 1) for n in range(len(found))]
    assert axes.get_xlabel() == "bulk density, kg/m³"
    assert "600 °C" in axes.get_ylabel()
    assert str(found[0]) in figure.hotface.description


def test_it_is_kept_in_a_file_and_comes_back(found, tmp_path):
    place = tmp_path / "tries.json"
    found.save(place)
    back = MixSearch.load(place, client=found[0].estimate.client)
    assert back == found
    assert back[0].estimate.bibtex().startswith("@")
    assert pickle.loads(pickle.dumps(back)) == found  # noqa: S301 - our own bytes
    place.write_text("{}", encoding="utf-8")
    with pytest.raises(NotAnAnswer, match=r"tries\.json holds no mix search"):
        MixSearch.load(place)


def test_when_nothing_meets_the_musts_the_reason_is_told(db):
    none = db.search_mixes(SHED, **{**ASKED, "must": Musts(density_below="150 kg/m3")})
    assert len(none) == 0
    assert none.reason
    assert none.reason in str(none)
    check_html(none)
    assert none.to_dataframe().empty


def test_progress_is_told_by_the_embedded_service(service):
    news = []
    client = Client(transport=InProcessTransport(service))
    client.search_mixes(SHED, **ASKED, progress=lambda done, total: news.append((done, total)))
    assert news[-1] == (600, 600)


def test_a_larger_search_is_for_the_embedded_service(connect):
    with pytest.raises(NotAllowed, match="embedded") as caught:
        connect("http").search_mixes(SHED, **{**ASKED, "candidates": 20_001})
    assert caught.value.code == "larger_search"


def test_what_makes_no_sense_is_told(db):
    with pytest.raises(BadQuantity, match="share between 0 and 1"):
        OnHand("cac-40", 15, 40)
    with pytest.raises(BadQuantity, match="above the most"):
        OnHand("cac-40", 0.5, 0.4)
    with pytest.raises(BadQuantity, match="density_below"):
        db.search_mixes(SHED, must=Musts(density_below="600 degC"))
    with pytest.raises(InvalidRequest) as caught:
        db.search_mixes(SHED, wishes=["colour"], fired="1000 degC", candidates=10)
    assert any(one["pointer"].startswith("#/wishes") for one in caught.value.errors)
    with pytest.raises(InvalidRequest) as caught:
        db.search_mixes([], fired="1000 degC")
    assert any(one["pointer"].startswith("#/on_hand") for one in caught.value.errors)


def test_own_materials_and_buckets_go_in(noted):
    client, notes = noted
    own = OnHand(
        "our-clay-balls",
        0.2,
        0.8,
        kind="aggregate",
        like="expanded-clay",
        bucket=("6.4 kg", "20 L"),
    )
    client.search_mixes([SHED[0], own], **{**ASKED, "must": None, "water": 0.5, "seed": 7})
    body = notes.requests[-1].body.decode()
    assert '"water": {"ratio_to_fines": 0.5}' in body
    assert '"bucket"' in body
    assert '"seed": 7' in body
