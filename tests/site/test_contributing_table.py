"""Contributing a table on the pages: checked row by row, handed in whole or not at all."""

from __future__ import annotations

import json

import pytest

from hotface_api.ledger.keys import authenticate
from hotface_api.ledger.reading import mine
from support.desk import PERLITE

HEAD = "material,property,form,fill,printed_typical,unit\n"
ROWS = (
    "expanded-perlite,loose_bulk_density,heap,poured,101,kg/m3\n"
    "expanded-perlite,loose_bulk_density,heap,poured,7,lb/ft3\n"
)
OWN = {name: PERLITE[name] for name in ("own_specimen", "own_instrument", "own_date", "licence")}
PATH = "/contribute/table"
CSL = [{"id": "mine", "type": "report", "title": "Invented for the tests", "number": "1"}]


def count(desk):
    return len(mine(desk.ledger, authenticate(desk.ledger, desk.keys["ann"])).items)


def upload(someone, data, **typed):
    """Choose a file and press check."""
    someone.go(PATH)
    sent = {**someone.fields(PATH), "act": "check", **OWN, **typed}
    parts = [
        f'Content-Disposition: form-data; name="{name}"\r\n\r\n{text}'.encode()
        for name, text in sent.items()
    ]
    named = b'Content-Disposition: form-data; name="file"; filename="table.csv"\r\n'
    parts.append(named + b"Content-Type: text/csv\r\n\r\n" + data)
    body = b"".join(b"--edge\r\n" + part + b"\r\n" for part in parts) + b"--edge--\r\n"
    kind = "multipart/form-data; boundary=edge"
    return someone.post(PATH, body, Content_Type=kind)


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"], ids=["plain", "with its mark"])
def test_a_file_is_checked_then_handed_in_without_choosing_it_again(desk, mark):
    ann = desk.visitor("ann")
    page = upload(ann, mark + (HEAD + ROWS).replace("\n", "\r\n").encode())
    text = page.words("body/main")
    assert page.status == 200, text
    assert page.faults == []
    assert "Every row can be handed in: 2 new values" in text
    assert text.count("Inside the interval held") == 2
    assert count(desk) == 0
    page = ann.send(PATH, act="submit")
    assert "2 values wait for review" in page.words("body/main")
    assert count(desk) == 2
    links = [link for link in page.links() if link.startswith("/contributions/c-")]
    assert len(links) == 2


def test_handed_in_twice_it_is_there_once(desk):
    ann = desk.visitor("ann")
    ann.go(PATH)
    ann.send(PATH, act="check", table=HEAD + ROWS, **OWN)
    again = {**ann.fields(PATH), "act": "submit"}
    for _ in range(2):
        assert ann.post(PATH, again).status == 200
    assert count(desk) == 2


def test_rows_changed_since_the_check_are_checked_first(desk):
    ann = desk.visitor("ann")
    ann.go(PATH)
    ann.send(PATH, act="check", table=HEAD + ROWS, **OWN)
    page = ann.send(PATH, act="submit", table=HEAD + ROWS.replace("101", "102"))
    assert "Something was changed since the check" in page.words("body/main")
    assert count(desk) == 0
    page = ann.send(PATH, act="submit", licence="CC0-1.0")
    assert "Something was changed since the check" in page.words("body/main")
    assert count(desk) == 0


def test_rows_at_fault_are_reported_by_line_and_nothing_is_written(desk):
    ann = desk.visitor("ann")
    bad = "kryptonite,loose_bulk_density,heap,poured,many,kg/m3\n"
    page = upload(ann, (HEAD + ROWS + bad).encode())
    text = page.words("body/main")
    assert page.status == 422
    assert "1 row needs another look" in text
    first = page.all(".//tbody/tr")[0]
    assert "".join(first.find("th").itertext()) == "4"
    assert "kryptonite" in ann.fields(PATH)["table"]
    page = ann.send(PATH, act="submit")
    assert page.status == 422
    assert count(desk) == 0
    mended = (
        ann.fields(PATH)["table"].replace("kryptonite", "expanded-perlite").replace("many", "90")
    )
    page = ann.send(PATH, act="check", table=mended)
    assert page.status == 200
    ann.send(PATH, act="submit")
    assert count(desk) == 3


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "choose a CSV file"),
        (b"\xff\xfem\x00", "UTF-16"),
        (HEAD.encode() + b"caf\xe9,x,heap,poured,1,kg/m3\n", "not UTF-8"),
        (b"a;b;c;d\n", "semicolons"),
        (b"colour\n1\n", "no such column"),
        (HEAD.encode(), "no rows"),
        (b"id," + HEAD.encode() + b"1,a,b,c,d,e,f\n", "the ledger gives this"),
        (HEAD.encode() + b'"unfinished,b\n', "not CSV"),
        (b"\x00\x01\x02", "zero bytes"),
    ],
)
def test_what_is_no_table_is_said_plainly(quiet_desk, data, said):
    ann = quiet_desk.visitor("ann")
    page = upload(ann, data)
    assert page.status == 422
    assert page.faults == []
    assert said in page.words("body/main")
    assert count(quiet_desk) == 0


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"licence": ""}, "licence"),
        ({"own_date": "soon"}, "own_date"),
        ({"sources": "{"}, "sources"),
        ({"sources": "[1]"}, "sources"),
        ({"sources": "[" * 50000}, "sources"),
        ({"sources": '[{"id": "mine", "issued": {"date-parts": [[1e999]]}}]'}, "sources"),
        ({"sources": '[{"id": "mine", "id": "yours"}]'}, "sources"),
        ({"sources": "null"}, "sources"),
    ],
)
def test_a_fault_marks_its_field(quiet_desk, typed, field):
    page = upload(quiet_desk.visitor("ann"), (HEAD + ROWS).encode(), **typed)
    assert page.status == 422
    assert page.by_id(field).get("aria-invalid") == "true"


def test_sources_come_with_the_table(desk):
    ann = desk.visitor("ann")
    ann.go(PATH)
    table = (
        "material,property,form,fill,printed_typical,unit,source,locator\n"
        "expanded-perlite,loose_bulk_density,heap,poured,103,kg/m3,mine,p. 3\n"
    )
    page = ann.send(PATH, act="check", table=table, sources=json.dumps(CSL), licence="CC0-1.0")
    assert page.status == 200, page.words("body/main")
    ann.send(PATH, act="submit")
    assert count(desk) == 1


def test_markup_in_a_cell_is_text(quiet_desk):
    ann = quiet_desk.visitor("ann")
    table = (
        "material,property,form,fill,printed_typical,unit,note\n"
        "<script>x</script>,loose_bulk_density,heap,poured,1,kg/m3,</textarea><script>y</script>\n"
    )
    page = upload(ann, table.encode())
    assert page.status == 422
    assert "<script" not in page.text
    assert "</textarea><script>y" in ann.fields(PATH)["table"]


def test_a_table_that_is_too_large_is_refused(quiet_desk):
    ann = quiet_desk.visitor("ann")
    page = upload(ann, (HEAD + ROWS * 40_000).encode())
    assert page.status == 413
    assert count(quiet_desk) == 0
