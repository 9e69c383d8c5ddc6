"""An estimate request on the small invented data."""

from __future__ import annotations

import copy

URL = "/v1/estimates"
REQUEST = {
    "mix": {
        "constituents": [
            {"material": "cac-demo-40", "amount": {"value": 25, "unit": "kg"}},
            {
                "material": "demo-perlite",
                "amount": {"value": 60, "unit": "L"},
                "measured_as": "loose",
                "fill": "poured",
            },
        ],
        "water": {"value": 11, "unit": "L"},
    },
    "state": {"kind": "fired", "temperature": {"value": 900, "unit": "Cel"}},
    "at": [{"value": 200, "unit": "Cel"}, "600 Cel"],
    "coverage": 0.9,
    "seed": 1,
}


def changed(path, value, base=REQUEST):
    """Give a request with one place changed; ``...`` takes it away."""
    made = copy.deepcopy(base)
    *steps, last = path
    place = made
    for step in steps:
        place = place.setdefault(step, {}) if isinstance(place, dict) else place[step]
    if value is ...:
        del place[last]
    else:
        place[last] = value
    return made


def estimated(client, body, query=""):
    """Give the estimate of a request that is sound."""
    response = client.post(URL + query, json=body)
    assert response.status_code == 200, response.text[:500]
    return response.get_json()
