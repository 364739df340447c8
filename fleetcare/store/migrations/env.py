"""Alembic runs its steps through `opening._migrate`; this file only marks the folder."""
