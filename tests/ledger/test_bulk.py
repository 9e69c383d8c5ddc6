"""CSV in the columns of the data package: all rows or none, a report a row."""

import csv
import io

import pytest

from hotface_api.ledger import compare
from hotface_api.ledger.bulk import MAX_ROWS, BulkDraft, columns, submit_csv
from hotface_api.ledger.errors import InvalidError
from hotface_api.ledger.reading import mine
from hotface_api.ledger.replies import Idempotency
from support.contributions import JUG, LICENCE, raised

HEADER = "material,property,printed_typical,unit,form,temperature_low,locator,source,basis"
ROWS = (
    "expanded-perlite,loose_bulk_density,110,kg/m3,heap,,,,measured",
    "expanded-perlite,loose_bulk_density,6.9,pcf,heap,20,,,measured",
    "expanded-perlite,loose_bulk_density,0.112,g/cm3,heap,,p. 3,lab-2001,read",
)
LAB = {"id": "lab-2001", "type": "report", "title": "Beds", "publisher": "Lab"}


def bulk(text, **given):
    data = text if isinstance(text, bytes) else text.encode()
    return BulkDraft(data=data, licence=LICENCE, sources=(LAB,), own=JUG, **given)


def table(*rows, header=HEADER):
    return "\n".join((header, *rows)) + "\n"


def test_a_file_becomes_pending_values(club):
    seen = []
    report = submit_csv(
        club.ledger,
        club.ann,
        bulk(table(*ROWS)),
        progress=lambda done, total: seen.append((done, total)),
    )
    assert report.written
    assert report.good
    assert [row.line for row in report.rows] == [2, 3, 4]
    assert seen[-1] == (3, 3)
    rows = [entry.row for entry in mine(club.ledger, club.ann).items]
    assert [row["basis"] for row in rows] == ["measured", "measured", "read"]
    assert rows[1]["unit"] == "[lb_av]/[cft_i]"
    assert rows[1]["printed_unit"] == "pcf"
    assert rows[1]["temperature_low"] == pytest.approx(293.15)
    assert rows[2]["typical"] == pytest.approx(112.0)
    assert rows[2]["source"].startswith("lab-") or "beds" in rows[2]["source"]


def test_a_dry_run_reports_and_writes_nothing(club):
    report = submit_csv(club.ledger, club.ann, bulk(table(*ROWS)), dry_run=True)
    assert not report.written
    assert [row.item.state for row in report.rows] == ["checked"] * 3
    assert report.rows[0].item.told.position == "inside"
    assert mine(club.ledger, club.ann).items == ()


def test_one_bad_row_stops_all_and_every_bad_row_is_told(club):
    bad = (
        "expanded-perlite,loose_bulk_density,110,W/(m.K),heap,,,,measured",
        "nothing,loose_bulk_density,110,kg/m3,heap,,,,measured",
    )
    report = submit_csv(club.ledger, club.ann, bulk(table(ROWS[0], *bad)))
    assert not report.written
    assert not report.good
    found = {row.line: row.item for row in report.rows}
    assert found[2].state == "checked"
    assert found[3].faults[0].pointer == "/3/unit"
    assert found[4].faults[0].pointer == "/4/material"
    assert mine(club.ledger, club.ann).items == ()


def test_cells_that_cannot_be_read_are_told_by_line_and_column(club):
    rows = (
        ROWS[0],
        'expanded-perlite,loose_bulk_density,"1,1",kg/m3,heap,warm,,,measured',
        "expanded-perlite,loose_bulk_density,110,kg/m3,heap,,,,memory",
        "too,few",
    )
    report = submit_csv(club.ledger, club.ann, bulk(table(*rows)))
    pointers = {fault.pointer for row in report.rows for fault in row.item.faults}
    assert pointers == {"/3/printed_typical", "/3/temperature_low", "/4/basis", "/5"}
    assert not report.written


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_utf_8_is_read_with_and_without_its_mark(club, mark):
    text = table("expanded-perlite,loose_bulk_density,110,kg/m³,heap,,,,measured")
    report = submit_csv(club.ledger, club.ann, bulk(mark + text.encode()))
    assert report.written, report


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (table(*ROWS).encode("utf-16"), "UTF-16"),
        (
            table(ROWS[0]).encode() + "expanded-perlite,x,1,kg/m³,heap,,,,\n".encode("latin-1"),
            "line 3",
        ),
        (table(*ROWS).replace(",", ";").encode(), "semicolons"),
        (",".join(f"material_{number}" for number in range(900)).encode(), "at most"),
        (b"", "needed"),
        (HEADER.encode(), "no rows"),
        (table(*ROWS).encode() + b"\0", "zero bytes"),
        (table('expanded-perlite,"open').encode(), "not CSV"),
        (table(*ROWS, header=HEADER.replace("locator", "locater")).encode(), "no such column"),
        (table(*ROWS, header=HEADER.replace("locator", "contributor")).encode(), "ledger gives"),
        (table(*ROWS, header=HEADER.replace("locator", "form")).encode(), "twice"),
        (table(*ROWS, header=HEADER.replace("unit", "note")).encode(), "needed"),
    ],
)
def test_files_that_are_no_such_table_are_refused_plainly(club, data, told):
    with raised(InvalidError) as caught:
        submit_csv(club.ledger, club.ann, bulk(data))
    assert any(told in fault.message for fault in caught[0].faults), caught[0].faults
    assert mine(club.ledger, club.ann).items == ()


def test_a_misspelt_column_names_the_nearest(club):
    with raised(InvalidError) as caught:
        submit_csv(
            club.ledger, club.ann, bulk(table(*ROWS, header=HEADER.replace("locator", "locater")))
        )
    assert caught[0].nearest[0] == "locator"


def test_too_many_rows_are_refused(club):
    rows = (ROWS[0],) * (MAX_ROWS + 5000)
    with raised(InvalidError) as caught:
        submit_csv(club.ledger, club.ann, bulk(table(*rows)))
    assert str(MAX_ROWS) in caught[0].message


def test_a_licence_is_needed_and_own_measurements_say_how(club):
    draft = BulkDraft(data=table(*ROWS).encode(), licence="", own=JUG, sources=(LAB,))
    with raised(InvalidError) as caught:
        submit_csv(club.ledger, club.ann, draft)
    assert caught[0].pointer == "/licence"
    report = submit_csv(
        club.ledger, club.ann, BulkDraft(data=table(ROWS[0]).encode(), licence=LICENCE)
    )
    assert "specimen, instrument and date" in report.rows[0].item.faults[0].message


def test_a_file_sent_again_is_not_written_again(club):
    asked = Idempotency("csv", "a" * 64)
    first = submit_csv(club.ledger, club.ann, bulk(table(*ROWS)), idempotency=asked)
    again = submit_csv(club.ledger, club.ann, bulk(table(*ROWS)), idempotency=asked)
    assert again.receipt.replayed
    held = submit_csv(club.ledger, club.ann, bulk(table(*ROWS)))
    assert [row.item.state for row in held.rows] == ["held"] * 3
    assert [row.item.value for row in held.rows] == [row.item.value for row in first.rows]
    assert len(mine(club.ledger, club.ann).items) == 3


def test_every_column_of_the_package_is_taken_or_given_by_the_ledger():
    known = columns()
    assert {"material", "printed_low", "uncertainty_standard", "with", "quoted_in"} <= set(known)
    assert not {"id", "contributor", "licence", "origin", "replaces"} & set(known)


def test_an_uncertainty_comes_in_the_si_unit_of_the_package(club):
    header = f"{HEADER},uncertainty_standard,uncertainty_kind,uncertainty_n"
    report = submit_csv(club.ledger, club.ann, bulk(table(f"{ROWS[1]},1.6,A,5", header=header)))
    assert report.written, report
    row = mine(club.ledger, club.ann).items[0].row
    assert (row["uncertainty_standard"], row["uncertainty_n"]) == (1.6, 5)


def test_quoted_fields_and_new_lines_inside_them_are_read(club):
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow([*HEADER.split(","), "note"])
    writer.writerow([*ROWS[0].split(","), 'two\nlines, "quoted" \u2028 and =more()'])
    report = submit_csv(club.ledger, club.ann, bulk(out.getvalue()))
    assert report.written, report
    assert "\n" in mine(club.ledger, club.ann).items[0].row["note"]


def test_a_file_of_one_kind_is_compared_with_what_is_held_once(club, monkeypatch):
    counted = []
    real = compare._interval
    monkeypatch.setattr(compare, "_interval", lambda *given: counted.append(1) or real(*given))
    rows = [ROWS[0].replace("110", f"{100 + n}") for n in range(40)]
    report = submit_csv(club.ledger, club.ann, bulk(table(*rows)), dry_run=True)
    assert [row.item.state for row in report.rows] == ["checked"] * 40
    assert len(counted) == 1
    alone = submit_csv(club.ledger, club.ann, bulk(table(rows[7])), dry_run=True)
    assert alone.rows[0].item.told == report.rows[7].item.told


def test_of_many_unknown_words_the_first_are_told_what_is_near(club):
    rows = [ROWS[0].replace("expanded-perlite", f"expanded-perlit-{n}") for n in range(200)]
    report = submit_csv(club.ledger, club.ann, bulk(table(*rows)), dry_run=True)
    assert all(row.item.state == "refused" for row in report.rows)
    assert "expanded-perlite" in report.rows[0].item.faults[0].nearest
    assert report.rows[-1].item.faults[0].nearest == ()
