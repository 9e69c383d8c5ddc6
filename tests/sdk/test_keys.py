"""The key: where it goes, where it never goes; and changes that are sent twice and done once."""

import copy
import json
import pickle
import warnings
from contextlib import closing

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hotface import (
    BadContribution,
    BadQuantity,
    Client,
    ConnectionFailed,
    KeyRefused,
    NotAllowed,
    NotAnAnswer,
    Reported,
    Response,
    Standing,
    Unavailable,
    own_measurement,
)
from hotface_api.embedded import open_transport
from support.scripted import Scripted, Unhurried, answered, client_of, problem

KEY = "hf_contributor_0123456789abcdefghijklmnopqrstuv"
PAGE = {"items": [], "next": None, "revision": 1}
STANDING = {"value": "c-1", "state": "accepted", "version": 4, "revision": 2, "replayed": False}
RECEIPT = {
    "submission": "s-1",
    "made_at": "2026-11-25T09:00:00Z",
    "revision": 1,
    "contributor": "p-1",
    "specimen": None,
    "sources": [],
    "dry_run": False,
    "replayed": False,
    "items": [{"value": "c-1", "state": "pending", "version": 1, "told": None, "errors": []}],
}
PERLITE = Reported("expanded-perlite", "loose_bulk_density", "110", unit="kg/m3", form="heap")
JUG = own_measurement("two litres from the club's bag", "scale, jug", "2026-11-20")


@pytest.fixture(autouse=True)
def no_key_around(monkeypatch):
    monkeypatch.delenv("HOTFACE_KEY", raising=False)


def submitted(client):
    return client.submit(PERLITE, licence="CC0-1.0", source=JUG)


def test_a_change_sent_again_keeps_its_idempotency_key():
    script = [
        ConnectionFailed("away"),
        NotAnAnswer("cut", cut=True),
        problem(429, "rate_limited", retry_after="1"),
        problem(503, "database_unavailable", retry_after="2"),
        answered(RECEIPT, 201),
    ]
    client, transport = client_of(*script, key=KEY, retries=Unhurried(retries=4))
    assert submitted(client).values == ("c-1",)
    sent = [one.headers["Idempotency-Key"] for one in transport.requests]
    assert len(sent) == 5
    assert len(set(sent)) == 1
    assert len({one.body for one in transport.requests}) == 1


def test_a_change_without_an_answer_names_the_key_it_is_made_once_under():
    script = [ConnectionFailed("away"), answered(RECEIPT, 201)]
    client, transport = client_of(*script, key=KEY, retries=0)
    with pytest.raises(ConnectionFailed, match="whether the change was made is not known") as lost:
        submitted(client)
    assert lost.value.idempotency_key in str(lost.value)
    assert len(lost.value.request_id) == 32
    options = {"licence": "CC0-1.0", "source": JUG}
    client.submit(PERLITE, **options, idempotency_key=lost.value.idempotency_key)
    first, second = (one.headers["Idempotency-Key"] for one in transport.requests)
    assert first == second
    client, _ = client_of(ConnectionFailed("away"), retries=0)
    with pytest.raises(ConnectionFailed) as read:
        client.about()
    assert read.value.idempotency_key is None
    assert str(read.value) == "away"


def test_the_next_call_has_a_key_of_its_own():
    client, transport = client_of(answered(RECEIPT, 201), answered(RECEIPT, 201), key=KEY)
    submitted(client)
    submitted(client)
    first, second = (one.headers["Idempotency-Key"] for one in transport.requests)
    assert first != second


def test_reads_and_computations_need_no_idempotency_key():
    client, transport = client_of(answered(PAGE), answered({"results": []}))
    client.revisions().all()
    client.ask("POST", "/v1/survivals", None, {"questions": []})
    assert all("Idempotency-Key" not in one.headers for one in transport.requests)


def test_anything_asked_that_changes_something_is_done_once():
    client, transport = client_of(
        ConnectionFailed("away"), answered({"id": "x"}), retries=Unhurried(retries=1)
    )
    client.ask("POST", "/v1/values", None, {"values": []})
    first, second = (one.headers["Idempotency-Key"] for one in transport.requests)
    assert first == second


def test_an_act_names_the_version_that_was_looked_at():
    client, transport = client_of(*[answered(STANDING)] * 5, key=KEY)
    done = client.review("c-1", "accept", version=3)
    client.reply(done, "yes")
    client.withdraw("c-1", "damp", version=9)
    assert [one.headers["If-Match"] for one in transport.requests] == ['"3"', '"4"', '"9"']
    assert [one.path for one in transport.requests] == [
        "/v1/values/c-1/review",
        "/v1/values/c-1/reply",
        "/v1/values/c-1/withdrawal",
    ]
    assert json.loads(transport.requests[0].body) == {"decision": "accept"}


def test_several_are_reviewed_with_their_versions_in_the_body():
    client, transport = client_of(answered({"items": [STANDING], "revision": 2}), key=KEY)
    looked_at = [Standing.from_json(STANDING)]
    assert client.review_many(looked_at, "accept")[0].state == "accepted"
    body = json.loads(transport.requests[0].body)
    assert body["values"] == [{"value": "c-1", "version": 4}]
    assert "If-Match" not in transport.requests[0].headers


def test_a_database_that_is_away_is_told_as_nothing_written():
    client, _ = client_of(problem(503, "database_unavailable", retry_after="2"), key=KEY, retries=0)
    with pytest.raises(Unavailable, match=r"ask again in 2 s.*done once"):
        submitted(client)


def test_a_given_key_goes_with_everything_one_of_the_environment_where_it_is_needed(monkeypatch):
    client, transport = client_of(answered(PAGE), key=KEY)
    client.revisions().all()
    assert transport.headers["Authorization"] == f"Bearer {KEY}"
    monkeypatch.setenv("HOTFACE_KEY", f" {KEY}\n")
    client, transport = client_of(
        answered(PAGE), answered(PAGE), answered({"results": []}), answered(RECEIPT, 201)
    )
    client.revisions().all()
    assert "Authorization" not in transport.headers
    client.contributions().all()
    assert transport.headers["Authorization"] == f"Bearer {KEY}"
    client.ask("POST", "/v1/estimates", None, {"mixes": []})
    assert "Authorization" not in transport.headers
    submitted(client)
    assert transport.headers["Authorization"] == f"Bearer {KEY}"


def test_an_empty_variable_is_no_key(monkeypatch):
    monkeypatch.setenv("HOTFACE_KEY", "  ")
    client, transport = client_of(answered(PAGE))
    client.contributions().all()
    assert "Authorization" not in transport.headers


@pytest.mark.parametrize("bad", ["two words", "café", "line\nbreak", ""])
def test_what_can_be_no_key_is_told_without_repeating_it(bad, monkeypatch):
    with pytest.raises(ValueError, match="key= holds") as caught:
        Client(transport=Scripted(), key=bad)
    assert not bad or bad not in str(caught.value)
    monkeypatch.setenv("HOTFACE_KEY", "two words")
    with pytest.raises(ValueError, match="HOTFACE_KEY holds"):
        Client(transport=Scripted())


def test_a_key_in_an_address_is_refused_before_it_is_sent():
    client, transport = client_of()
    with pytest.raises(ValueError, match="revoked") as caught:
        client.ask("GET", "/v1/materials", {"key": KEY})
    assert KEY not in str(caught.value)
    with pytest.raises(ValueError, match="revoked"):
        client.material(KEY)
    with pytest.raises(ValueError, match="revoked"):
        Client(f"https://example.org/{KEY}")
    assert transport.requests == []


def test_a_key_sent_in_the_open_is_warned_of():
    with pytest.warns(UserWarning, match="unencrypted.*use https") as caught:
        Client("http://example.org", key=KEY).close()
    assert KEY not in str(caught[0].message)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for place in ("https://example.org", "http://127.0.0.1:8000", "http://localhost:8000"):
            Client(place, key=KEY).close()


def test_the_key_is_shown_and_written_nowhere():
    client = Client("https://example.org", key=KEY)
    shown = [repr(client), repr(vars(client)), repr(vars(client._caller))]
    shown.append(repr(vars(client._caller.transport)))
    assert KEY not in "".join(shown)
    for write in (pickle.dumps, copy.deepcopy):
        with pytest.raises(TypeError):
            write(client)
    client.close()


def test_a_refused_key_says_where_it_came_from():
    client, _ = client_of(problem(401, "key_revoked", "the key was revoked"), key=KEY)
    with pytest.raises(KeyRefused, match=r"came from key=; ask who runs") as caught:
        client.key_card()
    assert isinstance(caught.value, NotAllowed)
    assert KEY not in str(caught.value)


def test_a_figure_must_be_text_as_it_is_printed():
    with pytest.raises(BadContribution, match=r"just as it is printed.*0\.3 does not say"):
        Reported("mullite", "true_density", 0.3, unit="g/cm3")
    assert Reported("mullite", "true_density", 3, unit="g/cm3").printed()["typical"] == "3"
    with pytest.raises(BadContribution, match="unit is missing"):
        Reported("mullite", "true_density", "3.1")
    with pytest.raises(BadContribution, match="give the figure"):
        Reported("mullite", "true_density", unit="g/cm3")
    with pytest.raises(BadContribution, match="write it like '2026-11-20'"):
        own_measurement("a lid", "a scale", "last Friday")
    client, _ = client_of()
    with pytest.raises(BadContribution, match="Reported"):
        client.submit([("mullite", 3.1)], licence="CC0-1.0")


def test_a_condition_is_written_as_the_service_takes_it():
    one = Reported(
        "mullite",
        "thermal_conductivity",
        low="2.0",
        high="3.0",
        unit="W/m·K",
        code="W/(m.K)",
        at=("400 degC", "1112 degF"),
        grain_size=("1 mm", "3 mm"),
        treatment_temperature="1400 degC",
        age="28 d",
        moisture="2 %",
        with_="cac-40",
        condition="across the pressing direction",
        source="held-source",
        locator="table 3",
    )
    assert one.to_json() == {
        "material": "mullite",
        "property": "thermal_conductivity",
        "printed": {"low": "2.0", "high": "3.0", "unit": "W/m·K", "code": "W/(m.K)"},
        "temperature": {"low": 400.0, "high": pytest.approx(600), "unit": "Cel"},
        "condition": {
            "grain_size": {"low": 1.0, "high": 3.0, "unit": "mm"},
            "treatment_temperature": {"value": 1400.0, "unit": "Cel"},
            "age": {"value": 28.0, "unit": "d"},
            "moisture": {"value": 2.0, "unit": "%"},
            "with": "cac-40",
            "text": "across the pressing direction",
        },
        "source": {"id": "held-source"},
        "locator": "table 3",
    }


def test_the_embedded_service_is_written_to_with_a_key_only(tmp_path, monkeypatch):
    monkeypatch.setenv("HOTFACE_DATABASE_URL", f"sqlite:///{tmp_path / 'own.sqlite3'}")
    opened = []
    monkeypatch.setattr(
        "hotface._client.open_embedded",
        lambda *, writable: opened.append(writable) or Scripted(Response(200, {}, b"")),
    )
    Client()
    Client(key=KEY)
    Client(writable=True)
    monkeypatch.setenv("HOTFACE_KEY", KEY)
    Client()
    assert opened == [False, True, True, True]
    with closing(open_transport()) as transport, Client(transport=transport) as reading:
        with pytest.raises(NotAllowed, match=r"read-only.*HOTFACE_KEY"):
            submitted(reading)
        assert reading.material("cac-40").id == "cac-40"


TEXTS = st.text(max_size=12)


@given(figure=TEXTS, unit=TEXTS, at=TEXTS, note=TEXTS, source=TEXTS)
def test_any_text_is_handed_on_or_told(figure, unit, at, note, source):
    """What is handed in is judged by the service; here only what cannot be sent is refused."""
    try:
        one = Reported("x", "y", figure, unit=unit, at=at, note=note, source=source)
        sent = json.loads(json.dumps(one.to_json()))
    except (BadContribution, BadQuantity):
        return
    assert sent["printed"]["typical"] == figure.strip()
    assert sent["note"] == note
