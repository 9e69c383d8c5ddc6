"""From cited values to answers: ranges, curves, survival and what is held."""

from typing import Final

RULES_VERSION: Final = "1"
"""Counts the rules that turn values into answers; a change of a rule advances it."""
