"""Mixes, estimate requests and mix files."""

import json

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hotface import BadMixFile, BadQuantity, EstimateRequest, Figure, Magnitudes, Mix, Range

Q = pint.get_application_registry().Quantity
LID = Mix(water="11 L").add("cac-40", "25 kg").add("expanded-clay", "60 L", fill="poured")
LID_JSON = {
    "constituents": [
        {"material": "cac-40", "amount": {"value": 25.0, "unit": "kg"}},
        {"material": "expanded-clay", "amount": {"value": 60.0, "unit": "L"}, "fill": "poured"},
    ],
    "water": {"value": 11.0, "unit": "L"},
}
LID_TOML = """
water = "11 L"
fired = "1000 degC"
at = ["200 degC", "600 degC"]
seed = 7

[[constituents]]
material = "cac-40"
amount = "25 kg"

[[constituents]]
material = "expanded-clay"
amount = "60 L"
fill = "poured"
bucket = { mass = "6.4 kg", volume = "20 L" }

[measured]
bulk_density = "1150 kg/m3"
"""


def test_a_mix_is_what_the_service_takes():
    assert LID.to_dict() == LID_JSON


def test_building_on_a_mix_leaves_it_as_it_was():
    dry = Mix()
    wet = dry.with_water((5, "kg"))
    more = wet.add("cac-40", Q(10, "kg"))
    assert (dry.water, dry.constituents) == (None, ())
    assert more.constituents[0].amount == Figure(10, "kg")
    assert wet.constituents == ()
    assert more.without("cac-40") == wet
    assert hash(wet) == hash(Mix(water="5 kg"))
    with pytest.raises(AttributeError):
        more.water = None


def test_everything_known_of_a_constituent_goes_along():
    mix = Mix(water_to_binder=0.45).add(
        "own-clay",
        (10, "L"),
        measured_as="absolute",
        pore_size="200 um",
        grain_size="4 mm",
        crush_factor=0.9,
        bucket=("6.4 kg", Q(20, "L")),
        kind="aggregate",
        like="expanded-clay",
        properties={
            "loose_bulk_density": Q(320, "kg/m^3"),
            "particle_density": Range(Magnitudes(500, 550, None), "kg/m3"),
            "true_density": {"value": 2600, "unit": "kg/m3"},
        },
    )
    assert mix.to_dict() == {
        "constituents": [
            {
                "material": "own-clay",
                "amount": {"value": 10.0, "unit": "L"},
                "measured_as": "absolute",
                "bucket": {
                    "mass": {"value": 6.4, "unit": "kg"},
                    "volume": {"value": 20.0, "unit": "L"},
                },
                "grain_size": {"value": 4.0, "unit": "mm"},
                "pore_size": {"value": 200.0, "unit": "um"},
                "crush_factor": 0.9,
                "properties": {
                    "loose_bulk_density": {"value": 320.0, "unit": "kg/m3"},
                    "particle_density": {"low": 500, "typical": 550, "unit": "kg/m3"},
                    "true_density": {"value": 2600, "unit": "kg/m3"},
                },
                "kind": "aggregate",
                "like": "expanded-clay",
            }
        ],
        "water": {"ratio_to_binder": 0.45},
    }


def test_a_mix_can_be_a_key():
    mix = LID.add("own", "1 L", properties={"true_density": "2600 kg/m3"})
    assert len({mix, LID, LID.without("cac-40"), mix.without("own")}) == 3


def test_parts_are_plain_numbers():
    mix = Mix(water_to_binder=0.5, parts_by="loose").add("cac-40", 1).add("expanded-clay", 3.5)
    assert mix.to_dict()["parts_by"] == "loose"
    assert mix.to_dict()["constituents"][1]["amount"] == {"value": 3.5, "unit": "1"}


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        (lambda: Mix().add("cac-40", 25), "amount of cac-40.*no unit.*parts_by"),
        (lambda: Mix().add("cac-40", "25"), "amount of cac-40.*no unit"),
        (lambda: Mix().add("cac-40", "25 degC"), "mass or volume is wanted"),
        (lambda: Mix(water="a bucket"), "water"),
        (lambda: Mix(water=True), "water"),
        (lambda: Mix().add("x", "1 kg", bucket=("20 L", "6 kg")), "bucket of x, mass"),
        (lambda: Mix().add("x", "1 kg", grain_size="2 kg"), "grain size of x"),
        (lambda: Mix().add("x", "1 kg", properties={"true_density": 3}), "true_density of x"),
    ],
)
def test_an_amount_that_makes_no_sense_is_told(wrong, says):
    with pytest.raises(BadQuantity, match=says):
        wrong()


def test_water_is_said_one_way():
    with pytest.raises(ValueError, match="not both"):
        Mix(water="11 L", water_to_binder=0.4)
    with pytest.raises(ValueError, match="holds no 'grog'"):
        LID.without("grog")


def test_a_mix_reads_as_a_person_says_it():
    assert str(LID) == "25 kg cac-40, 60 L expanded-clay; water 11 L"
    assert str(Mix(water_to_binder=0.4)) == "nothing yet; water 0.4 of the binder's mass"
    assert "<caption>mix</caption>" in LID._repr_html_()
    assert "&lt;b&gt;" in Mix().add("<b>", "1 kg")._repr_html_()


def test_a_request_says_state_temperatures_and_measurements():
    request = EstimateRequest(
        LID,
        fired=Q(1832, "degF"),
        at=["200 degC", (600, "degC")],
        measured={"bulk_density": "1150 kg/m3", "densities": {"fresh": Q(1800, "kg/m**3")}},
        coverage=0.8,
        seed=3,
    )
    assert request.to_json() == {
        "mix": LID_JSON,
        "state": {"kind": "fired", "temperature": {"value": 1832.0, "unit": "[degF]"}},
        "at": [{"value": 200.0, "unit": "Cel"}, {"value": 600.0, "unit": "Cel"}],
        "measured": {
            "bulk_density": {"value": 1150.0, "unit": "kg/m3"},
            "densities": {"fresh": {"value": 1800.0, "unit": "kg/m3"}},
        },
        "coverage": 0.8,
        "seed": 3,
    }


@pytest.mark.parametrize(
    "at", ["200 degC", (200, "degC"), Q(200, "degC"), Figure(200, "Cel"), ["200 degC"]]
)
def test_one_temperature_needs_no_list(at):
    assert EstimateRequest(LID, at=at).to_json()["at"] == [{"value": 200.0, "unit": "Cel"}]


def test_an_array_of_quantities_is_many_temperatures():
    at = EstimateRequest(LID, at=Q([200, 600], "degC")).to_json()["at"]
    assert [one["value"] for one in at] == [200.0, 600.0]


def test_other_states_and_moisture():
    assert EstimateRequest(LID).to_json() == {"mix": LID_JSON}
    wet = EstimateRequest(LID, state="air-dry", moisture=0.04).to_json()["state"]
    assert wet == {"kind": "air-dry", "moisture": {"value": 0.04, "unit": "1"}}
    percent = EstimateRequest(LID, state="air-dry", moisture="4 %").to_json()["state"]
    assert percent["moisture"] == {"value": 4.0, "unit": "%"}
    with pytest.raises(ValueError, match="not both"):
        EstimateRequest(LID, fired="1000 degC", state="dried")
    with pytest.raises(ValueError, match="needs a state"):
        EstimateRequest(LID, moisture=0.1)


def test_a_request_takes_no_second_set_of_options():
    with pytest.raises(ValueError, match="leave out fired"):
        EstimateRequest.of(EstimateRequest(LID), {"fired": "1000 degC"})


def write(folder, text, name="lid.toml"):
    place = folder / name
    place.write_text(text, encoding="utf-8")
    return place


def test_a_toml_file_is_the_same_request(tmp_path):
    mix = Mix(water="11 L").add("cac-40", "25 kg")
    same = EstimateRequest(
        mix.add("expanded-clay", "60 L", fill="poured", bucket=("6.4 kg", "20 L")),
        fired="1000 degC",
        at=["200 degC", "600 degC"],
        seed=7,
        measured={"bulk_density": "1150 kg/m3"},
    )
    assert EstimateRequest.from_file(write(tmp_path, LID_TOML)).to_json() == same.to_json()


def test_a_json_file_may_be_short_or_the_services_own(tmp_path):
    short = {
        "water": {"value": 11, "unit": "L"},
        "constituents": [
            {"material": "cac-40", "amount": "25 kg"},
            {"material": "expanded-clay", "amount": {"value": 60, "unit": "L"}, "fill": "poured"},
        ],
    }
    place = write(tmp_path, json.dumps(short), "lid.json")
    assert EstimateRequest.from_file(place).to_json() == {"mix": LID_JSON}
    own = {"mix": {"anything": 1}, "seed": 2, "new_option": True}
    place = write(tmp_path, json.dumps(own), "own.json")
    assert EstimateRequest.from_file(place).to_json() == own


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "no constituents"),
        ("water = ", "lid.toml: "),
        ("watter = '11 L'", "unknown key 'watter'; did you mean 'water'"),
        ("[[constituents]]\nmaterial = 'a'", "constituent 1 lacks 'amount'"),
        ("constituents = ['a']", "constituent 1 must be a table"),
        ("[[constituents]]\nmaterial='a'\namount='1 kg'\nfil='x'", "did you mean 'fill'"),
        ("[[constituents]]\nmaterial='a'\namount='1 hour'", "amount of a.*mass or volume"),
        (
            "[[constituents]]\nmaterial='a'\namount='1 L'\nbucket={mass='6 kg'}",
            "bucket of a, volume",
        ),
        (
            "[[constituents]]\nmaterial='a'\namount='1 L'\nbucket={weight='6 kg'}",
            "bucket of constituent 1 has the unknown key 'weight'",
        ),
        ("[[constituents]]\nmaterial='a'\namount=3", "amount of a.*no unit"),
        ("fired=[1]\n[[constituents]]\nmaterial='a'\namount='1 kg'", "fired"),
    ],
)
def test_a_faulty_file_names_the_place(tmp_path, text, says):
    with pytest.raises(BadMixFile, match=says) as caught:
        EstimateRequest.from_file(write(tmp_path, text))
    assert str(caught.value).startswith("lid.toml: ")


def test_a_file_that_is_not_there_or_no_table(tmp_path):
    with pytest.raises(BadMixFile, match="cannot be read"):
        EstimateRequest.from_file(tmp_path / "none.toml")
    with pytest.raises(BadMixFile, match="one table"):
        EstimateRequest.from_file(write(tmp_path, "[1]", "a.json"))


@given(st.lists(st.tuples(st.text("abc-", min_size=1), st.floats(0.1, 1e6)), max_size=5))
def test_a_mix_comes_back_from_its_own_json(lines):
    mix = Mix(water="1 L")
    for material, amount in lines:
        mix = mix.add(material, (amount, "kg"))
    back = json.loads(json.dumps(mix.to_dict()))
    assert [line["amount"]["value"] for line in back["constituents"]] == [a for _, a in lines]
