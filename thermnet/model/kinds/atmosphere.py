"""Atmospheres: the gas around a spacecraft and between the layers of its blankets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Annotated

import numpy as np
from pydantic import Field, model_validator

from thermnet.model.between import GAUGE_TEMPERATURE, Between
from thermnet.model.kinds.gas import GASES, Gas
from thermnet.model.kinds.gas import gas as facts_of
from thermnet.model.kinds.kind import Kind
from thermnet.network.parts import History
from thermnet.text.fields import Entry, Text, fault, name_of, number, quantity
from thermnet.text.fields import temperature as temperature_in


class Atmosphere(Entry):
    """Gas at a constant pressure, or at one that changes over the time of a transient case.

    The gas is that between the layers of blankets; it carries no heat elsewhere.
    """

    gas: Annotated[str, name_of("gases", also=GASES)] = Field(description="which gas")
    pressure: Annotated[float, quantity("Pa", at_least=0)] | None = Field(
        None, description="constant pressure at the gauge; 0 for no gas"
    )
    time: tuple[Annotated[float, quantity("s", at_least=0)], ...] = Field(
        (), description="instead: instants from the start of a transient case, two or more"
    )
    pressures: tuple[Annotated[float, quantity("Pa", above=0)], ...] = Field(
        (),
        description="one pressure for each instant, joined by straight lines in the logarithm of "
        "the pressure; after the last instant the last one holds",
    )
    gauge_temperature: Annotated[float, temperature_in()] = Field(
        GAUGE_TEMPERATURE, description="temperature of the gas where its pressure is measured"
    )
    accommodation: Annotated[float, number(above=0, at_most=1)] | None = Field(
        None,
        description="share of the difference in energy that a molecule gives up when it strikes a "
        "layer; by default the cautious value of the gas",
    )
    note: Text = Field("", description="where the numbers come from")

    @model_validator(mode="after")
    def _one_way(self) -> Atmosphere:
        if self.gauge_temperature <= 0.0:
            raise fault("gauge_temperature", "must be above 0 K")
        if self.pressure is not None:
            for key in ("time", "pressures"):
                if getattr(self, key):
                    raise fault(key, "give either this or a constant 'pressure', not both")
            return self
        if not self.time and not self.pressures:
            raise fault(
                "pressure", "missing key 'pressure' [Pa]: give it, or 'time' and 'pressures'"
            )
        for key, other in (("time", "pressures"), ("pressures", "time")):
            if not getattr(self, key):
                raise fault(key, f"missing key '{key}': it goes with '{other}'")
        if len(self.time) < 2:
            raise fault("time", "needs two instants or more; state one as a constant 'pressure'")
        if len(self.pressures) != len(self.time):
            wanted, found = len(self.time), len(self.pressures)
            raise fault("pressures", f"needs one for each instant: {wanted}, not {found}")
        for k in range(1, len(self.time)):
            if self.time[k] <= self.time[k - 1]:
                raise fault(f"time.{k}", "instants must increase")
        return self


def between(
    name: str, entries: Mapping[str, Atmosphere], gases: Mapping[str, Gas], span: float
) -> Between:
    """What an atmosphere is over a transient case of `span` [s]; 0 for a steady or repeating one.

    Raises ValueError where the pressure changes and the case is not a transient, and for a new gas
    that lacks a key.
    """
    entry = entries[name]
    gas = facts_of(entry.gas, gases)
    if entry.accommodation is not None:
        said = f"the atmosphere '{name}' states accommodation"
        source = "; ".join(part for part in (said, entry.note, gas.source) if part)
        gas = replace(gas, accommodation=entry.accommodation, source=source)
    pressure: float | History
    if entry.pressure is not None:
        pressure = entry.pressure
    elif span == 0.0:
        raise ValueError(
            "its pressure changes over time, and the case is steady or repeats: take a transient "
            "case, or state a constant `pressure`"
        )
    else:
        pressure = History(time=np.array(entry.time), value=np.array(entry.pressures))
    return Between(gas=gas, pressure=pressure, gauge_temperature=entry.gauge_temperature)


KIND = Kind(section="atmospheres", entry=Atmosphere)
