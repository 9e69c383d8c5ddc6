"""A club with people and keys, on every database."""

from support.clubs import club, emptied_template, ledger_url, package, template

__all__ = ["club", "emptied_template", "ledger_url", "package", "template"]
