"""The gas between the layers of a blanket, as links."""

from __future__ import annotations

import functools

from thermnet.model.between import Between
from thermnet.model.kinds.blanket_entry import Blanket
from thermnet.model.kinds.blanket_term import Term
from thermnet.network.parts import History, LinkPart
from thermnet.network.primitives import Potential
from thermnet.physics import gas as formulas
from thermnet.physics.gas import GasFacts

MANY = 256
"""Kinds of gap whose tables are kept: blankets alike share theirs, and the network sums them."""

conductance_curve = functools.lru_cache(maxsize=MANY)(formulas.conductance_curve)
shares = functools.lru_cache(maxsize=MANY)(formulas.shares)


def gas_term(entry: Blanket, path: str, between: Between) -> Term:
    """What the gas between the layers of a blanket at `path` leads through it.

    N layers make N + 1 gaps in series, each as wide as the thickness of all layers over N + 1. Each
    gap carries the integral of its conductance h over the temperature from its one face to its
    other, so that all together carry the covered area over N + 1 times the integral from the
    outer face to the covered surface. The bounds of a blanket leave the gas alone.

    Raises ValueError where the thickness of the layers is not known.
    """
    thickness = entry.gas_thickness
    if thickness is None or entry.layers is None:
        raise ValueError(
            "the case has gas between the layers: state the `density` or `thickness` of its layers"
        )
    gaps = entry.layers.count + 1
    parts = gas_links(
        between,
        a=entry.from_,
        b=entry.to,
        strength=entry.closed_area / gaps,
        gap=thickness / gaps,
        origin=f"{path}.gas",
    )
    gas = between.gas
    return Term(
        path=f"{path}.gas",
        what=f"{gas.name} at {_pressures(between)}",
        parts=parts,
        source=f"accommodation {gas.accommodation:g} of every face; {gas.source}",
    )


def cold_gas(gas: GasFacts, coldest: float) -> tuple[str, ...]:
    """A note where a face of the blanket, at `coldest` [K], is colder than a gas stays one."""
    if coldest >= gas.lowest:
        return ()
    held = (
        f"at {coldest:.0f} K {gas.name} may condense: below {gas.lowest:g} K its conductivity is "
        "held"
    )
    return (held,)


def gas_links(
    between: Between, *, a: str, b: str, strength: float, gap: float, origin: str
) -> tuple[LinkPart, ...]:
    """Links of `strength` [m2] whose potential is the integral of the conductance of one gap.

    A constant pressure makes one link. One that changes makes some, each the product of what
    temperature and what pressure do, whose histories follow it; no pressure at all makes none.
    """
    gas, gauge = between.gas, between.gauge_temperature
    if not isinstance(between.pressure, History):
        if between.pressure == 0.0:
            return ()
        potential = Potential(curve=conductance_curve(gas, between.pressure, gauge, gap))
        return (LinkPart(a=a, b=b, strength=strength, potential=potential, origin=origin),)
    time, pressure = formulas.finer_instants(between.pressure.time, between.pressure.value)
    return tuple(
        LinkPart(
            a=a,
            b=b,
            strength=strength,
            potential=Potential(curve=share.curve),
            history=History(time=time, value=share.rise(pressure)),
            origin=origin,
        )
        for share in shares(gas, gauge, gap)
    )


def _pressures(between: Between) -> str:
    """The pressure in words: "0.001 Pa", or "101325 to 0.1 Pa"."""
    if not isinstance(between.pressure, History):
        return f"{between.pressure:g} Pa"
    first, last = between.pressure.value[[0, -1]]
    return f"{first:g} to {last:g} Pa"
