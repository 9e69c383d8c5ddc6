"""Contributions: submitted, told at once, reviewed, kept, and every step of it on record.

Doors (HTTP, command line) make a ``Ledger`` and call the functions of these modules:

- ``keys``: ``make_key``, ``authenticate``, ``revoke_key``, ``list_keys``; ``people``:
  ``add_contributor``, ``erase_person``, ``list_people``
- ``sessions``: ``open_session``, ``find_session``, ``close_session``
- ``submit``: ``preview``, ``submit``; ``bulk``: ``submit_csv``; ``drafts``: what is handed in
- ``review``: ``review``, ``review_many``, ``reply``, ``withdraw``; ``correct``: ``correct``
- ``reading``: ``queue``, ``mine``, ``view``, ``history``, ``list_revisions``
- ``check``: ``check_audit``; ``backup``: ``backup``, ``verify``, ``restore``
- ``rates``: ``RateLimiter``

What is refused is raised as one of ``errors``; the rest is answered in frozen dataclasses.
"""
