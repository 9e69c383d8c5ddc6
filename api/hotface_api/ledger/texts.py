"""Text from outside: length, characters that no database or page should meet, and numbers."""

from __future__ import annotations

import math
import unicodedata
from typing import Any, Final

from hotface_api.ledger.errors import Fault, near

__all__ = ["LONG", "SHORT", "Faults", "text_fault"]

SHORT: Final = 200
LONG: Final = 4000
_ALLOWED_CONTROLS: Final = frozenset("\n\t")
_FORBIDDEN: Final = frozenset({"Cc", "Cs", "Co", "Cn"})
_BIDI: Final = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def text_fault(text: str, longest: int) -> str | None:
    """Say what is wrong with a text, or None: markup is text and passes, hidden marks do not."""
    if len(text) > longest:
        return f"at most {longest} characters; this has {len(text)}"
    for place, mark in enumerate(text):
        if mark in _BIDI:
            return f"a mark that reverses writing (U+{ord(mark):04X}) stands at position {place}"
        if mark not in _ALLOWED_CONTROLS and unicodedata.category(mark) in _FORBIDDEN:
            return f"a character that is no text (U+{ord(mark):04X}) stands at position {place}"
    return None


class Faults:
    """Gathers what is wrong, each with its pointer, and checks the commonest things."""

    def __init__(self, base: str = "") -> None:
        self.base = base
        self.found: list[Fault] = []

    def add(self, place: str, message: str, nearest: tuple[str, ...] = ()) -> None:
        """Note one fault at a place below the base."""
        self.found.append(Fault(f"{self.base}{place}", message, nearest))

    def text(
        self, place: str, text: Any, *, longest: int = SHORT, needed: bool = False
    ) -> str | None:
        """Check a text and give it stripped; None where it is absent or wrong."""
        if text is None or (isinstance(text, str) and not text.strip()):
            if needed:
                self.add(place, "this is needed")
            return None
        if not isinstance(text, str):
            self.add(place, "this must be text")
            return None
        wrong = text_fault(text, longest)
        if wrong:
            self.add(place, wrong)
            return None
        return unicodedata.normalize("NFC", text.strip())

    def number(
        self, place: str, number: Any, low: float, high: float, unit: str = ""
    ) -> float | None:
        """Check a number against its limits and give it as float; None where absent or wrong."""
        if number is None:
            return None
        if isinstance(number, bool) or not isinstance(number, int | float):
            self.add(place, "this must be a number")
            return None
        try:
            value = float(number)
        except OverflowError:
            value = math.inf
        if not math.isfinite(value) or not low <= value <= high:
            self.add(place, f"{number} is outside {low:g} to {high:g}{unit}")
            return None
        return value

    def word(self, place: str, word: Any, allowed: tuple[str, ...]) -> str | None:
        """Check a word against a closed list."""
        if word is None:
            return None
        if not isinstance(word, str) or word not in allowed:
            shown = str(word)[:40]
            self.add(place, f"{shown!r} is not one of {', '.join(allowed)}", near(shown, allowed))
            return None
        return word
