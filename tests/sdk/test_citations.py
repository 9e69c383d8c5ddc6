"""What the SDK exports is opened by the libraries it is meant for: BibTeX, CSL-JSON, pandas."""

import warnings

import bibtexparser
import pandas as pd
import pytest

from hotface import Client, Mix
from hotface_api.embedded import InProcessTransport

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from citeproc import (
        Citation,
        CitationItem,
        CitationStylesBibliography,
        CitationStylesStyle,
        formatter,
    )
    from citeproc.source.json import CiteProcJSON


@pytest.fixture(scope="session")
def est(service):
    client = Client(transport=InProcessTransport(service))
    mix = Mix(water="11 L").add("cac-40", "25 kg").add("expanded-clay", "60 L")
    return client.estimate(mix, fired="1000 degC", at=["200 degC", "600 degC"], seed=1)


def test_a_reference_library_opens_the_bibtex_of_an_estimate(est):
    """Read by bibtexparser 2, which has no part in writing it."""
    library = bibtexparser.parse_string(est.bibtex())
    assert library.failed_blocks == []
    assert [entry.key for entry in library.entries] == list(est.citations)
    by_id = {source.id: source for source in est.sources()}
    for entry in library.entries:
        fields = {field.key.lower(): field.value for field in entry.fields}
        assert fields["title"]
        year = by_id[entry.key].year
        assert year is None or fields.get("year") == year


def test_every_source_of_the_service_opens_in_a_reference_library(est):
    client = est.client
    ids = [one.id for one in client.sources()]
    library = bibtexparser.parse_string(client.bibtex(ids))
    assert library.failed_blocks == []
    assert sorted(entry.key for entry in library.entries) == sorted(ids)


def test_a_citation_processor_formats_the_sources(est):
    """Read by citeproc-py as the CSL-JSON it is, in the Harvard style that comes with it."""
    sources = est.sources()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        items = CiteProcJSON([dict(one.citation) for one in sources])
        style = CitationStylesStyle("harvard-cite-them-right", validate=False)
        listed = CitationStylesBibliography(style, items, formatter.plain)
        for one in sources:
            listed.register(Citation([CitationItem(one.id)]))
        texts = [str(one) for one in listed.bibliography()]
    assert len(texts) == len(sources)
    assert all(len(text) > 10 for text in texts)


def test_a_data_frame_of_an_estimate_goes_into_a_calculation(est):
    frame = est.to_dataframe()
    wide = frame.pivot_table(index="temperature", columns="property", values="typical")
    assert list(wide.index) == [200.0, 600.0]
    k, c = wide["thermal_conductivity"], wide["specific_heat_capacity"]
    diffusivity = k / (c * est.bulk_density.magnitudes.typical)
    assert diffusivity.between(1e-8, 1e-5).all()
    assert pd.api.types.is_float_dtype(frame["low"])


def test_look_ups_come_as_data_frames(est):
    cones = est.client.cone_firings(cone="6").to_dataframe()
    assert cones["temperature_unit"].dropna().unique().tolist() == ["Cel"]
    melting = est.client.meltings(["CaO", "Al2O3", "SiO2"]).to_dataframe()
    assert melting["temperature"].is_monotonic_increasing
    curve = est.thermal_conductivity.to_dataframe()
    assert curve.attrs == {"unit": "W/(m.K)", "temperature_unit": "Cel"}
