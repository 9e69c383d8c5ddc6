"""Identifiers from outside (ORCID, DOI) and of our own (ids of values, keys, submissions)."""

from __future__ import annotations

import re
import secrets
import unicodedata
from typing import Final

__all__ = ["new_id", "read_doi", "read_orcid", "slug"]

_ALPHABET: Final = "0123456789abcdefghjkmnpqrstvwxyz"  # no i, l, o, u: read aloud without doubt
_ORCID: Final = re.compile(
    r"(?:https?://(?:www\.)?orcid\.org/)?(\d{4})-?(\d{4})-?(\d{4})-?(\d{3}[\dXx])/?", re.ASCII
)
_DOI: Final = re.compile(
    r"(?:https?://(?:dx\.|www\.)?doi\.org/|doi:\s*)?(10\.\d{4,9}(?:\.\d+)*/[!-~]{1,200})",
    re.ASCII | re.IGNORECASE,
)
_DIGITS: Final = 15
_LONGEST_SLUG: Final = 40


def _check_digit(digits: str) -> str:
    """Give the ISO 7064 MOD 11-2 check character of fifteen digits."""
    total = 0
    for digit in digits:
        total = (total + int(digit)) * 2
    rest = (12 - total % 11) % 11
    return "X" if rest == 10 else str(rest)  # noqa: PLR2004 - eleven residues, ten digits and X


def read_orcid(text: str) -> str:
    """Read an ORCID and verify its check digit.

    Parameters
    ----------
    text : str
        Sixteen characters, with or without hyphens or the ``https://orcid.org/`` before them.

    Returns
    -------
    str
        The form with hyphens, such as ``0000-0002-1825-0097``.

    Raises
    ------
    ValueError
        If it has another form, or its check digit does not fit.

    Notes
    -----
    ISO/IEC 7064:2003 MOD 11-2, as ORCID publishes it for its identifiers.

    Examples
    --------
    >>> read_orcid("https://orcid.org/0000-0002-1825-0097")
    '0000-0002-1825-0097'
    """
    match = _ORCID.fullmatch(text.strip())
    if match is None:
        raise ValueError("an ORCID has sixteen characters like 0000-0002-1825-0097")
    plain = "".join(match.groups()).upper()
    if _check_digit(plain[:_DIGITS]) != plain[_DIGITS]:
        raise ValueError("the check digit of this ORCID does not fit: a digit is wrong")
    return "-".join(plain[start : start + 4] for start in range(0, 16, 4))


def read_doi(text: str) -> str:
    """Read a DOI, bare or as an address, into its bare lower-case form.

    Raises
    ------
    ValueError
        If it is none.

    Examples
    --------
    >>> read_doi("https://doi.org/10.1000/ABC.1")
    '10.1000/abc.1'
    """
    match = _DOI.fullmatch(text.strip())
    if match is None:
        raise ValueError("a DOI looks like 10.1000/abc: 10., a registrant number, a slash, a name")
    if any(mark in match[1] for mark in "<>\"'`"):
        raise ValueError("a DOI holds no quotation or angle marks")
    return match[1].lower()


def new_id(prefix: str, length: int = 12) -> str:
    """Make a random id: ``length`` characters of five bits each behind a prefix."""
    return prefix + "".join(secrets.choice(_ALPHABET) for _ in range(length))


def slug(text: str) -> str:
    """Fold text into lower-case ASCII words joined by hyphens; may be empty."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    words = "-".join(re.findall(r"[a-z0-9]+", plain))
    return words[:_LONGEST_SLUG].strip("-")
