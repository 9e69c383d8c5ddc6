"""Formulas: pure functions on floats and arrays.

Everything here is in SI base units (kelvin, pascal, kilogram, metre, watt) and knows nothing of
HTTP, databases, unit names or files. Functions broadcast over leading axes (draws, temperatures);
phases, constituents and origins are on the last axis. A scalar gives what an array would give.
Wrong input raises `ValueError` with the reason; NaN in a physical quantity travels through to the
answer, so a missing curve point stays missing.
"""
