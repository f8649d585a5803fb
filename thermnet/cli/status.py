"""Exit statuses of the command."""

from __future__ import annotations

HOLDS = 0
"""Done, and all margins hold."""

FAILS = 1
"""A margin fails."""

BAD_INPUT = 2
"""The input cannot be used."""

UNSOLVED = 3
"""A case could not be solved."""
