"""The problem codes: status, title and meaning of everything that can go wrong."""

from __future__ import annotations

from enum import Enum

__all__ = ["Code"]


class Code(Enum):
    """The problem codes: status, title and meaning. Codes are never renamed."""

    INVALID_REQUEST = (400, "Invalid request", "The request cannot be read.")
    INVALID_JSON = (400, "Invalid JSON", "The body is not one JSON object as RFC 8259 has it.")
    INVALID_PARAMETER = (
        400,
        "Invalid parameter",
        "A query parameter has a value that cannot be used.",
    )
    UNKNOWN_PARAMETER = (
        400,
        "Unknown parameter",
        "The route has no such query parameter; none is ever ignored.",
    )
    REPEATED_PARAMETER = (
        400,
        "Repeated parameter",
        "A query parameter that holds one value is given twice.",
    )
    CURSOR_MISMATCH = (
        400,
        "Cursor does not fit",
        "The cursor is damaged, or was made for other filters or another revision.",
    )
    INVALID_HEADER = (
        400,
        "Invalid header field",
        "A header field that says how to treat the request cannot be used.",
    )
    KEY_IN_QUERY = (
        400,
        "Key in the address",
        "A key never belongs into an address: it is logged on its way. Revoke it, send a new one.",
    )
    KEY_NEEDED = (401, "Key needed", "This asks for a key, sent as `Authorization: Bearer`.")
    KEY_INVALID = (401, "Key not known", "The key is not known here.")
    KEY_EXPIRED = (401, "Key expired", "The key has expired.")
    KEY_REVOKED = (401, "Key revoked", "The key was revoked.")
    CURATORS_ONLY = (403, "Curators only", "Only a curator's key may do this.")
    NOT_YOURS = (403, "Not yours", "Only its contributor may do this.")
    OWN_SUBMISSION = (403, "Own submission", "Nobody reviews their own submission.")
    LARGER_SEARCH = (
        403,
        "Search too large",
        "A search of this size is for the command line or the embedded service.",
    )
    NOT_FOUND = (404, "Not found", "There is nothing at this address.")
    UNKNOWN_ID = (404, "Unknown id", "No such material, property, source or row is held.")
    UNKNOWN_REVISION = (404, "Unknown revision", "The data has no such revision (yet).")
    UNKNOWN_VALUE = (
        404,
        "Unknown contribution",
        "There is no such contributed value, or it is pending and another's.",
    )
    METHOD_NOT_ALLOWED = (405, "Method not allowed", "The address does not know this method.")
    NOT_ACCEPTABLE = (406, "Not acceptable", "The answer has none of the media types asked for.")
    WRONG_STATE = (409, "Wrong state", "The contributed value is in a state that excludes this.")
    ALREADY_CONTRIBUTED = (
        409,
        "Contributed before",
        "The same contributor has contributed the same figure before; `nearest` names it.",
    )
    REFERENCE_GONE = (
        409,
        "Reference gone",
        "What the contributed value refers to is no longer held.",
    )
    GONE = (410, "No longer served", "The row was withdrawn or replaced; its history is kept.")
    STALE_VERSION = (
        412,
        "Changed since",
        "The contributed value has another version than the one `If-Match` names.",
    )
    BODY_TOO_LARGE = (413, "Body too large", "The body has more bytes than the service reads.")
    UNSUPPORTED_MEDIA_TYPE = (
        415,
        "Unsupported media type",
        "The body is of a media type the address does not read, or not in UTF-8.",
    )
    INVALID_BODY = (422, "Invalid body", "The body is JSON, but a value in it cannot be used.")
    INVALID_CONTRIBUTION = (
        422,
        "Invalid contribution",
        "What was handed in is impossible or cannot be traced; `errors` lists every fault.",
    )
    IDEMPOTENCY_KEY_REUSED = (
        422,
        "Idempotency key reused",
        "The `Idempotency-Key` was used for another request.",
    )
    VERSION_NEEDED = (
        428,
        "Version needed",
        "A change names the version it is about in `If-Match`.",
    )
    RATE_LIMITED = (429, "Too many requests", "The caller's share of this minute is used up.")
    INTERNAL_ERROR = (500, "Internal error", "The service failed; the request id names the case.")
    NOT_READY = (503, "Not ready", "The database is not migrated or holds no data yet.")
    DATABASE_UNAVAILABLE = (
        503,
        "Database unavailable",
        "The database is locked or away; the request may be repeated.",
    )

    def __init__(self, status: int, title: str, meaning: str) -> None:
        self.status = status
        self.title = title
        self.meaning = meaning

    @property
    def word(self) -> str:
        """Give the code as it stands in a document."""
        return self.name.lower()
