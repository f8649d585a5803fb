"""Failures: what may break, besides the heaters, whose failures are known without an entry."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, Any

from pydantic import Field, model_validator

from thermnet.model.kinds.case import Offset, Scale
from thermnet.model.kinds.kind import Kind
from thermnet.text.fields import Entry, Text, anything, fault, name_of


class Failure(Entry):
    """One failure, judged in every case unless it names some."""

    title: Text = Field("", description="how it is called in tables, instead of its name")
    links: tuple[Annotated[str, name_of("links")], ...] = Field(
        (),
        description="links that are lost; of others `set` says so: `heat_pipes.NAME.lost`",
    )
    loops: tuple[Annotated[str, name_of("loops")], ...] = Field(
        (), description="loops whose pump stops"
    )
    mode: Annotated[str, name_of("modes")] | None = Field(
        None, description="mode that the spacecraft is stuck in, whatever its timeline says"
    )
    set: dict[str, Annotated[object, anything()] | Scale | Offset] = Field(
        {}, description="values by path, as in the `set` of a case"
    )
    cases: tuple[Annotated[str, name_of("cases")], ...] = Field(
        (), description="cases in which it is judged; by default all"
    )
    note: Text = Field("", description="why it is thought possible")

    @model_validator(mode="after")
    def _something(self) -> Failure:
        if not (self.links or self.loops or self.mode or self.set):
            raise fault("links", "nothing fails: state 'links', 'loops', a 'mode' or a 'set'")
        return self

    def changes(self, timelines: Iterable[str]) -> dict[str, Any]:
        """What it changes, by path; the names of the model's timelines are those to get stuck."""
        return {
            **{f"links.{name}.lost": True for name in self.links},
            **{f"loops.{name}.stopped": True for name in self.loops},
            **{f"timelines.{name}.stuck": self.mode for name in timelines if self.mode},
            **self.set,
        }


KIND = Kind(section="failures", entry=Failure)
