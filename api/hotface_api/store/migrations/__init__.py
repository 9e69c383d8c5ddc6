"""Alembic scripts; they travel inside the package."""
