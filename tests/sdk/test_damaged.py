"""Whatever an answer holds or lacks, reading it gives a result or an error of this package."""

import copy
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hotface import (
    Client,
    HotfaceError,
    Mix,
    OnHand,
    Response,
)
from hotface_api.embedded import InProcessTransport
from support.scripted import Scripted, Unhurried

MIX = Mix(water="11 L").add("cac-40", "25 kg").add("expanded-clay", "60 L")
OPTIONS = {"fired": "1000 degC", "at": ["200 degC"], "draws": 2, "mould": "12 L"}
ASKED = {
    "material": lambda db: db.material("mullite"),
    "property": lambda db: db.property("fireclay-brick", "thermal_conductivity"),
    "property at": lambda db: db.property("mullite", "true_density", at=["20 degC"]),
    "survival": lambda db: db.survives("expanded-perlite", "1050 degC"),
    "survivals": lambda db: db.survivals([("mullite", "1000 degC")]),
    "estimate": lambda db: db.estimate(MIX, **OPTIONS),
    "estimates": lambda db: db.estimates([MIX], **OPTIONS),
    "search": lambda db: db.search_mixes(
        [OnHand("cac-40", 0.2, 0.6), OnHand("expanded-clay")], candidates=20, results=1
    ),
    "values": lambda db: db.values(material="mullite").first(),
    "specimen": lambda db: db.specimen("bahnen-cac-perlite-700"),
    "near": lambda db: db.specimens(near={"cac-40": 1, "expanded-perlite": 1}).first(),
    "cones": lambda db: db.cones().first(),
    "cone firing": lambda db: db.cone_firings(cone="6"),
    "melting": lambda db: db.meltings(["CaO", "Al2O3"]),
    "holdings": lambda db: db.holdings(material="mullite").first(),
    "sources": lambda db: db.sources().first(),
    "cautions": lambda db: db.cautions().first(),
    "revisions": lambda db: db.revisions().first(),
    "properties": lambda db: db.properties().first(),
    "about": lambda db: db.about(),
    "problems": lambda db: db.problems(),
}
ODD = st.sampled_from(
    [None, True, 0, -1, 1e308, "", "x", "2026", [], {}, [[]], {"value": None}, {"unit": 1}]
)


class Answers(dict):
    """Answers by question, with a short name for the reports of hypothesis."""

    def __repr__(self):
        return "<the answers>"


class First:
    """Keeps the first answer of the real service."""

    def __init__(self, inner):
        self.inner, self.kept = inner, None

    def send(self, request):
        answer = self.inner.send(request)
        self.kept = self.kept or answer
        return answer

    def close(self):
        return


@pytest.fixture(scope="session")
def whole(service):
    """What the real service answers to each question."""
    found = Answers()
    for name, ask in ASKED.items():
        first = First(InProcessTransport(service))
        if name == "specimen":
            specimen = Client(transport=first).specimens().first()[0].id
            first = First(InProcessTransport(service))
            ASKED[name] = lambda db, specimen=specimen: db.specimen(specimen)
            ask = ASKED[name]  # noqa: PLW2901 - asked for by an id that is held
        ask(Client(transport=first))
        assert first.kept.status == 200, name
        found[name] = json.loads(first.kept.body)
    return found


def places(value, path=()):
    """Give every place in a document."""
    yield path
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from places(inner, (*path, key))
    elif isinstance(value, list):
        for index, inner in enumerate(value[:3]):
            yield from places(inner, (*path, index))


def damaged(document, path, odd, *, drop):
    """Give the document with one place gone or odd."""
    made = copy.deepcopy(document)
    if not path:
        return odd
    here = made
    for step in path[:-1]:
        here = here[step]
    if drop:
        del here[path[-1]]
    else:
        here[path[-1]] = odd
    return made


@pytest.mark.parametrize("name", ASKED)
@settings(max_examples=60, deadline=None)
@given(place=st.integers(0, 10_000), odd=ODD, drop=st.booleans())
def test_one_place_gone_or_odd_is_read_or_told(whole, name, place, odd, drop):
    document = whole[name]
    found = list(places(document))
    body = json.dumps(damaged(document, found[place % len(found)], odd, drop=drop)).encode()
    answer = Response(200, {"content-type": "application/json"}, body)
    client = Client(transport=Scripted(*[answer] * 3), retries=Unhurried(retries=0))
    try:
        ASKED[name](client)
    except HotfaceError as error:
        assert str(error)  # noqa: PT017 - either is right; anything else is not
    except IndexError:
        pytest.fail("the script ran out: the SDK asked again and again")
