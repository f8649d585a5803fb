"""Modes: the states in which the spacecraft as a whole is operated."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from thermnet.model.kinds.kind import Kind
from thermnet.text.fields import Entry, Text, quantity


class Mode(Entry):
    """A mode of operation: the units say what they give in it."""

    budget: Annotated[float, quantity("W", at_least=0)] | None = Field(
        None, description="power that the units may take in this mode, all together"
    )
    note: Text = Field("", description="what the spacecraft does in it")


KIND = Kind(section="modes", entry=Mode)
