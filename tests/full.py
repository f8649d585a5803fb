"""Tests that wait for a full run, so that the usual one stays short."""

from __future__ import annotations

import os

import pytest

FULL = bool(os.environ.get("THERMNET_FULL"))
"""Whether all tests run; then none may be skipped."""

only_in_full = pytest.mark.skipif(not FULL, reason="waits for a full run")
