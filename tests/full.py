"""Tests that wait for a full run, so that the usual one stays short."""

from __future__ import annotations

import os
from collections.abc import Iterable
from typing import Any

import pytest

FULL = bool(os.environ.get("THERMNET_FULL"))
"""Whether all tests run; then none may be skipped."""

only_in_full = pytest.mark.skipif(not FULL, reason="waits for a full run")


def first_of(values: Iterable[Any], keep: int = 1) -> list[Any]:
    """The values of a parametrized test, of which all but the first ones wait for a full run."""
    return [
        pytest.param(*(each if isinstance(each, tuple) else (each,)), marks=only_in_full)
        if place >= keep
        else each
        for place, each in enumerate(values)
    ]
