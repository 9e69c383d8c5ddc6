"""The closed word lists of the schema, in one place for models, checks and schemas."""

from typing import Final

KINDS: Final = (
    "binder",
    "aggregate",
    "filler",
    "fibre",
    "pore-former",
    "admixture",
    "body",
    "mineral",
)
FORMS: Final = ("heap", "grain", "solid", "paste", "body")
STATES: Final = (
    "as-supplied",
    "raw",
    "calcined",
    "expanded",
    "fresh",
    "demoulded",
    "air-dry",
    "dried",
    "fired",
    "saturated",
    "melt",
)
PLACES: Final = ("face", "behind")
FILLS: Final = ("poured", "shaken", "compacted")
BASES: Final = ("read", "quoted", "computed", "memory", "measured")
BOUNDS: Final = ("is", "at_least", "at_most")
ROLES: Final = ("use_limit", "test_class", "failure_onset", "event")
EVENT_KINDS: Final = ("first-heat", "process", "reversible-jump", "leaves-by-design", "other")
STATUSES: Final = ("pending", "accepted", "declined", "withdrawn")
SOURCE_TYPES: Final = (
    "standard",
    "handbook",
    "journal",
    "report",
    "dataset",
    "patent",
    "encyclopedia",
    "supplier",
    "web",
)
GROUPS: Final = (
    "density",
    "structure",
    "thermal",
    "expansion",
    "strength",
    "limit",
    "chemistry",
    "setting",
    "other",
)
SCALES: Final = ("log", "linear", "ordinal")
SPECIMEN_KINDS: Final = (
    "specimen",
    "curve",
    "typical",
    "range-end",
    "design",
    "supplier",
    "limit",
    "loose-bed",
    "series-extreme",
    "computed",
)
UNCERTAINTY_KINDS: Final = ("A", "B")
DISTRIBUTIONS: Final = ("normal", "rectangular", "triangular")
