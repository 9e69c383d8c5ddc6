"""Files of values over HTTP: as a CSV body or in a form; whole or not at all, a report a row."""

from __future__ import annotations

import io
import json

import pytest

from hotface_api.ledger.bulk import MAX_BYTES, MAX_ROWS
from support.document import hold_answer
from support.doors import OWN, doors_of
from support.problems import check_problem

HEADER = "material,property,printed_typical,unit,form,basis,source,locator,note"
ROW = "expanded-perlite,loose_bulk_density,{},kg/m3,heap,measured,,,"
LAB = {"id": "lab-2001", "type": "report", "title": "Invented: beds", "publisher": "Lab"}
OWN_QUERY = "specimen=two%20litres&instrument=scale&date=2026-11-20"
URL = f"/v1/values?licence=CC0-1.0&{OWN_QUERY}"


@pytest.fixture
def doors(club):
    return doors_of(club)


def table(*rows, header=HEADER):
    return "\n".join((header, *rows)).encode() + b"\n"


def send(person, data, url=URL, media="text/csv", **headers):
    return person.post(url, data=data, content_type=media, headers=headers)


def form(person, parts, url="/v1/values", **headers):
    return person.post(url, data=parts, content_type="multipart/form-data", headers=headers)


def test_a_file_is_taken_whole(doors):
    response = send(doors.ann, table(ROW.format(110), ROW.format("111.0")))
    assert response.status_code == 201, response.text
    report = hold_answer("post_values", response)
    assert (report["written"], report["good"], report["dry_run"]) == (True, True, False)
    assert [row["line"] for row in report["rows"]] == [2, 3]
    assert [row["state"] for row in report["rows"]] == ["pending", "pending"]
    assert report["rows"][0]["told"]["position"] == "inside"
    assert report["receipt"]["submission"]
    items = doors.ann.get("/v1/contributions").get_json()["items"]
    assert [item["value"]["printed"]["typical"] for item in items] == ["110", "111.0"]
    assert items[0]["value"]["basis"] == "measured"
    again = send(doors.ann, table(ROW.format(110), ROW.format("111.0")))
    assert again.status_code == 200
    assert [row["state"] for row in again.get_json()["rows"]] == ["held", "held"]


def test_a_bad_row_stops_all_and_is_told_by_line_and_column(doors):
    bad = ROW.format(112).replace("expanded-perlite", "expanded-perlit")
    data = table(ROW.format(110), bad, ROW.format("1,1"), ROW.format(113).replace("heap", "lump"))
    document = check_problem(send(doors.ann, data), 422, "invalid_contribution")
    places = {error["pointer"] for error in document["errors"]}
    assert places >= {"#/4"}  # a comma within a figure makes a cell too many
    data = table(ROW.format(110), bad, ROW.format("x"))
    document = check_problem(send(doors.ann, data), 422, "invalid_contribution")
    places = {error["pointer"] for error in document["errors"]}
    assert "#/4/printed_typical" in places
    data = table(ROW.format(110), bad)
    document = check_problem(send(doors.ann, data), 422, "invalid_contribution")
    assert [error["pointer"] for error in document["errors"]] == ["#/3/material"]
    assert "expanded-perlite" in document["nearest"]
    assert doors.ann.get("/v1/contributions").get_json()["items"] == []


def test_a_dry_run_of_a_file(doors):
    bad = ROW.format(112).replace("kg/m3", "W/(m.K)")
    response = send(doors.ann, table(ROW.format(110), bad), URL + "&dry_run=true&units=us")
    report = hold_answer("post_values", response)
    assert response.status_code == 200
    assert (report["written"], report["good"], report["dry_run"]) == (False, False, True)
    assert [row["state"] for row in report["rows"]] == ["checked", "refused"]
    assert report["rows"][1]["errors"][0]["pointer"] == "#/3/unit"
    assert report["rows"][0]["told"]["interval"]["unit"] == "[lb_av]/[cft_i]"
    assert doors.ann.get("/v1/contributions").get_json()["items"] == []


def test_a_form_brings_its_sources_along(doors):
    row = "expanded-perlite,loose_bulk_density,112,kg/m3,heap,read,lab-2001,p. 3,"
    parts = {
        "values": (io.BytesIO(table(row, ROW.format(110))), "values.csv"),
        "licence": "CC-BY-4.0",
        "sources": (io.BytesIO(json.dumps([LAB]).encode()), "sources.json"),
        "own_measurement": json.dumps(OWN["own_measurement"]),
    }
    response = form(doors.ann, parts)
    assert response.status_code == 201, response.text
    report = hold_answer("post_values", response)
    assert len(report["receipt"]["sources"]) == 2
    entry = doors.ann.get(f"/v1/contributions/{report['rows'][0]['value']}").get_json()
    assert entry["proposed"]["sources"][0]["citation"]["title"] == "Invented: beds"
    assert entry["value"]["licence"] == "CC-BY-4.0"


def test_a_repeated_form_gets_the_first_answer_whatever_its_border(doors):
    def parts():
        return {
            "values": (io.BytesIO(table(ROW.format(110))), "values.csv"),
            "licence": "CC-BY-4.0",
            "own_measurement": json.dumps(OWN["own_measurement"]),
        }

    key = {"Idempotency-Key": "form-1"}
    first, again = form(doors.ann, parts(), **key), form(doors.ann, parts(), **key)
    assert (first.status_code, again.status_code) == (201, 200), again.text
    assert again.headers["Idempotent-Replayed"] == "true"
    assert again.get_json()["receipt"]["replayed"]
    assert again.get_json()["rows"][0]["value"] == first.get_json()["rows"][0]["value"]
    other = {**parts(), "licence": "CC0-1.0"}
    check_problem(form(doors.ann, other, **key), 422, "idempotency_key_reused")


ENCODINGS = [
    (table(ROW.format(110)).decode().encode("utf-16"), "UTF-16"),
    (b"\xef\xbb\xbf" + table(ROW.format(110)) + b"caf\xe9\n", "line 3"),
    (
        table(ROW.format(110) + "Gr\u00f6\u00dfe") + ROW.format(111).encode() + b"gr\xf6sse\n",
        "line 3",
    ),
    (table(ROW.format(110)).replace(b"110", b"1\x000"), "zero bytes"),
    (table(ROW.format(110)).replace(b",", b";"), "semicolons"),
    (b"", "needed"),
    (HEADER.encode() + b"\n", "no rows"),
    (b'material,property,unit\n"open\n', "CSV"),
]


@pytest.mark.parametrize(("data", "said"), ENCODINGS)
def test_files_that_are_no_tables(doors, data, said):
    document = check_problem(send(doors.ann, data), 422, "invalid_contribution")
    assert said in document["detail"], document["detail"]
    assert doors.ann.get("/v1/contributions").get_json()["items"] == []


def test_a_file_of_ten_thousand_rows_is_told_how_many_fit(doors):
    rows = [ROW.format(f"{100 + n / 1000:.3f}") for n in range(10_000)]
    data = table(*rows)
    assert len(data) < MAX_BYTES
    document = check_problem(send(doors.ann, data), 422, "invalid_contribution")
    assert str(MAX_ROWS) in document["detail"]
    assert doors.ann.get("/v1/contributions").get_json()["items"] == []


def test_a_file_may_be_larger_than_other_bodies_and_not_without_end(doors):
    note = "x" * 3900
    data = table(*(ROW.format(100 + n) + note for n in range(300)))
    assert 1024 * 1024 < len(data) < MAX_BYTES
    assert send(doors.ann, data).status_code == 201
    check_problem(send(doors.ann, b"x" * (MAX_BYTES + 1)), 413, "body_too_large")
    start = b'--x\r\nContent-Disposition: form-data; name="values"; filename="v.csv"\r\n\r\n'
    whole = start + b"x" * (MAX_BYTES + 2**21) + b"\r\n--x--\r\n"
    response = send(doors.ann, whole, "/v1/values", "multipart/form-data; boundary=x")
    check_problem(response, 413, "body_too_large")


PARTS = [
    ({"licence": "CC0-1.0"}, "values"),
    ({"values": "x", "licens": "CC0-1.0"}, "licens"),
    ({"values": "x", "sources": "{"}, "sources"),
    ({"values": "x", "sources": "{}"}, "sources"),
    ({"values": "x", "sources": '["a"]'}, "sources"),
    ({"values": "x", "dry_run": "yes"}, "dry_run"),
    ({"values": "x", "own_measurement": '{"specimen": "x"}'}, "own_measurement/instrument"),
    ({"values": "x", "own_measurement": '{"specimn": "x"}'}, "own_measurement/specimn"),
    ({"values": ["x", "y"]}, "values"),
]


@pytest.mark.parametrize(("parts", "place"), PARTS)
def test_parts_of_a_form_are_read_strictly(doors, parts, place):
    document = check_problem(form(doors.ann, parts), 422, "invalid_body")
    assert f"#/{place}" in {error["pointer"] for error in document["errors"]}


def test_parts_that_are_no_json(doors):
    response = form(doors.ann, {"values": "x", "own_measurement": "specimen"})
    check_problem(response, 400, "invalid_json")
    response = form(doors.ann, {"values": "x", "sources": '[{"a": 1e999}]'})
    check_problem(response, 400, "invalid_json")


def test_a_form_that_breaks_off(doors):
    response = send(
        doors.ann, b"--x\r\nContent-Dis", "/v1/values", "multipart/form-data; boundary=x"
    )
    assert response.status_code in (400, 422)
    response = send(doors.ann, b"", "/v1/values", "multipart/form-data")
    assert response.status_code in (400, 422)


def test_what_does_not_go_together(doors):
    data = table(ROW.format(110))
    response = send(doors.ann, data, URL + "&partial=true")
    check_problem(response, 400, "invalid_parameter")
    document = check_problem(send(doors.ann, data, "/v1/values"), 422, "invalid_contribution")
    assert "licence" in document["detail"]
    response = send(doors.ann, data, "/v1/values?licence=CC0-1.0&specimen=x")
    check_problem(response, 422, "invalid_body")
    parts = {"values": (io.BytesIO(data), "v.csv")}
    check_problem(form(doors.ann, parts, URL), 422, "invalid_body")
    response = send(doors.ann, data, media="text/csv; charset=latin-1")
    check_problem(response, 415, "unsupported_media_type")
    response = send(doors.ann, data, **{"Content-Encoding": "gzip"})
    check_problem(response, 415, "unsupported_media_type")


FORMULA = '=HYPERLINK("http://example.org","x")'


def test_a_formula_is_kept_as_text_and_made_harmless_where_a_spreadsheet_opens_it(doors):
    quoted = '"' + FORMULA.replace('"', '""') + '"'
    response = send(doors.ann, table(ROW.format(110) + quoted))
    value = response.get_json()["rows"][0]["value"]
    assert doors.cleo.act(value, "review", {"decision": "accept"}).status_code == 200
    assert doors.anyone.get(f"/v1/values/{value}").get_json()["note"] == FORMULA
    sheet = doors.anyone.get(f"/csv/values/{value}")
    assert sheet.status_code == 200
    lines = sheet.text.splitlines()
    assert not any(cell.startswith("=") for line in lines for cell in line.split(","))
