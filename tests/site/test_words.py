"""How numbers, units and sentences are written for people."""

from __future__ import annotations

import pytest
from werkzeug.datastructures import MultiDict

from hotface.units import UNITS
from hotface_api.http.quantities import Output
from hotface_api.site import words
from hotface_api.site.forms import Form, number_text


@pytest.mark.parametrize(
    ("value", "code", "shown"),
    [
        (0.0431657, "W/(m.K)", "0.0432"),
        (988.883, "kg/m3", "989"),
        (1218.08, "kg/m3", "1220"),
        (1343.4, "Cel", "1343"),
        (-400.2, "K", "−400"),
        (0, "%", "0"),
        (5.43e-6, "1/K", "5.43×10⁻⁶"),
        (5e-6, "1/K", "5×10⁻⁶"),
        (2.5e7, "", "2.5×10⁷"),
        (100, "%", "100"),
        (None, "%", "not held"),
    ],
)
def test_a_number_has_three_digits_and_a_temperature_none_behind_the_point(value, code, shown):
    assert words.number(value, code) == shown


def test_every_unit_written_by_hand_is_a_unit():
    assert set(words.UNIT_WORDS) <= set(UNITS)


@pytest.mark.parametrize("database", ["sqlite"], indirect=True)
def test_no_unit_of_an_answer_is_shown_as_code(app):
    reference = app.extensions["hotface"].references.latest()
    codes = {row[name] for row in reference.properties.values() for name in ("unit", "unit_us")}
    for system in ("si", "us"):
        output = Output(system)
        codes |= {output.unit(what).code for what in ("temperature", "difference", "length", "age")}
    odd = {words.unit(code) for code in codes if any(sign in words.unit(code) for sign in "[]{*")}
    assert odd == set()


@pytest.mark.parametrize(
    ("given", "shown"),
    [
        ({"low": 650.0, "high": 875.0, "unit": "Cel"}, "650 to 875\N{NO-BREAK SPACE}°C"),
        ({"low": 650.0, "high": None, "unit": "Cel"}, "650\N{NO-BREAK SPACE}°C and more"),
        ({"low": None, "high": 875.0, "unit": "Cel"}, "up to 875\N{NO-BREAK SPACE}°C"),
        ({"low": 5.0, "high": 5.0, "unit": "%"}, "5\N{NO-BREAK SPACE}%"),
        ({"low": None, "high": None, "unit": "%"}, "not stated"),
        (None, "not stated"),
    ],
)
def test_an_open_side_of_a_span_is_said(given, shown):
    assert words.span(given) == shown


def test_a_floor_is_called_a_floor():
    value = {"low": 700.0, "typical": None, "high": None, "unit": "Cel", "bound": "at_least"}
    assert words.reaches(value) == "at least 700\N{NO-BREAK SPACE}°C"
    value |= {"low": 90.0, "typical": 100.0, "high": 120.0, "unit": "kg/m3", "bound": "is"}
    assert words.reaches(value) == "90 to 120\N{NO-BREAK SPACE}kg/m³, typically 100"


@pytest.mark.parametrize(
    ("text", "units", "shown"),
    [
        ("at 1050 Cel.", "si", "at 1050\N{NO-BREAK SPACE}°C."),
        ("at 1050 Cel.", "us", "at 1050\N{NO-BREAK SPACE}°C (1922\N{NO-BREAK SPACE}°F)."),
        ("10 to 35 Cel", "us", "10 to 35\N{NO-BREAK SPACE}°C (50 to 95\N{NO-BREAK SPACE}°F)"),
        ("from -250 Cel", "si", "from -250\N{NO-BREAK SPACE}°C"),
        ("Celsius and Cell", "us", "Celsius and Cell"),
        ("0.1 mg/m3, <= 5 %", "si", "0.1 mg/m³, ≤ 5 %"),
    ],
)
def test_a_sentence_keeps_what_was_said(text, units, shown):
    assert words.sentence(text, units) == shown


def test_small_words():
    assert words.counted(1, "body", "bodies") == "1 body"
    assert words.counted(3, "value") == "3 values"
    assert words.percent(0.004) == "less than 1 %"
    assert words.formula("Fe2O3") == "Fe₂O₃"
    assert words.condition(None) == "no condition held"
    assert (
        words.role("failure_onset", None, "service_limit") == "failed or advised against from here"
    )
    assert words.quantity(None) == "not stated"


def test_a_decimal_comma_is_understood_and_a_thousand_not_guessed():
    assert number_text("0,45") == "0.45"
    assert number_text("1,234.5") == "1,234.5"
    assert number_text("1,234,5") == "1,234,5"
    form = Form.read(MultiDict({"amount": "1,234.5", "unit": "25 kg"}))
    assert form.figure("amount", "") is None
    assert form.figure("unit", "") is None
    assert form.faults["unit"] == "write the number alone; its unit stands beside it"
