"""Tables that open in a spreadsheet without running anything."""

from __future__ import annotations

import pytest

from hotface_api.site import csvs


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\n"])
def test_a_text_is_kept_from_being_a_formula(start):
    assert csvs.safe(f"{start}SUM(A1)") == f"'{start}SUM(A1)"


@pytest.mark.parametrize("number", [-5, -0.25, 3.0, 0])
def test_numbers_stay_numbers(number):
    assert csvs.safe(number) == number


def test_rows_are_written_as_rfc_4180_asks():
    made = csvs.write(("a", "b"), [{"a": 'say "yes", then', "b": None}, {"a": True, "b": -1.5}])
    assert made == b'a,b\r\n"say ""yes"", then",\r\ntrue,-1.5\r\n'


@pytest.mark.parametrize("database", ["sqlite"], indirect=True)
def test_no_cell_of_the_seed_starts_a_formula(client):
    for address in (
        "/csv/materials",
        "/csv/materials/exfoliated-vermiculite/properties/thermal_conductivity",
        "/csv/holdings?kind=aggregate",
        "/csv/sources/vdi-2010-heatatlas",
    ):
        for line in client.get(address).get_data(as_text=True).splitlines():
            for cell in line.split(","):
                bare = cell.strip('"')
                starts = bare.startswith(("=", "+", "@"))
                assert not starts, cell
