"""An estimate request on the small invented data."""

from __future__ import annotations

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
