"""What every exterior surface absorbs in a case, by cause, and its equivalent sink temperature."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from thermnet.model.driven import Driven
from thermnet.model.exterior import exteriors
from thermnet.model.histories import mean, unrolled
from thermnet.model.kinds.boundary import Boundary
from thermnet.model.kinds.surface import Absorbed, BySchedule, Surface
from thermnet.model.model import Model
from thermnet.model.paths import apply_case
from thermnet.model.plan import Plan, plan
from thermnet.model.surfaces import surfaces_of
from thermnet.network.grid import common_grid
from thermnet.network.parts import History
from thermnet.network.primitives import Floats
from thermnet.physics.constants import STEFAN_BOLTZMANN

NO_SHARE = 1e-9
"""Share of its view below which a surface has no sink."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sink:
    """The equivalent radiation sink temperature [K] of a surface.

    That of a black environment with which it exchanges the same net heat (SMC-S-016, 8.3.7.2 c:
    read). `mean` belongs to the mean heat; `lowest` and `highest` are those of an instant.
    """

    mean: float
    lowest: float
    highest: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SurfaceHeat:
    """Absorbed heat of a surface over one orbit, or over all that the case begins.

    All where a schedule may take longer than an orbit to repeat.

    `heat` [W] by cause, as histories (one instant where it is constant); `mean` [W] by cause;
    `sink` is None for a surface that radiates to no boundary, or to a ground that is a node.
    """

    name: str
    area: float
    absorptance: float
    emittance: float
    heat: Mapping[str, History]
    mean: Mapping[str, float]
    sink: Sink | None


def surface_heat(model: Model, case: str) -> tuple[SurfaceHeat, ...]:
    """The absorbed heat and the sink temperature of every exterior surface in a case.

    A steady case is shown through the orbit of whose heat it takes the mean. Raises InputError.
    """
    applied = apply_case(model, case)
    how = plan(applied, case)
    orbit = None if how.sky is None else how.sky.period
    surfaces = surfaces_of(applied)
    boundaries = applied.entries(Boundary, "boundaries")
    scheduled = any(_follows_schedules(surface) for surface in surfaces.values()) or any(
        each.schedule is not None for each in boundaries.values()
    )
    period = orbit or how.span
    if orbit is not None and (scheduled or len(how.skies) > 1):
        span = how.span or (how.activity.period if how.activity is not None else None) or 0.0
        period = orbit * max(1, math.ceil(span / orbit - 1e-9))  # whole orbits
    found = []
    outside = exteriors(applied, how, period)
    for name, surface in surfaces.items():
        exterior = outside[name]
        heat = {cause: _history(each) for cause, each in exterior.heat.items()}
        heat = {**_given(surface, exterior.efficiency, how, period), **heat}
        sinks = [
            (_history(share), _temperature(boundaries[seen], how, period))
            for seen, share in exterior.fractions.items()
            if seen in boundaries
        ]
        site = None if how.sky is None else how.sky.site
        if site is not None and site.ground not in boundaries:
            sinks = []  # a part of the surroundings is a node, whose temperature is not known yet
        found.append(
            SurfaceHeat(
                name=name,
                area=surface.area,
                absorptance=exterior.absorptance,
                emittance=exterior.emittance,
                heat=heat,
                mean={cause: mean(each, period) for cause, each in heat.items()},
                sink=_sink(list(heat.values()), sinks, exterior.area * exterior.emittance, period),
            )
        )
    return tuple(found)


def _follows_schedules(surface: Surface) -> bool:
    """Whether what it absorbs may take longer than an orbit to repeat."""
    shares = (surface.sunlit, *surface.sees.values())
    given = (getattr(surface.absorbed, cause) for cause in Absorbed.model_fields)
    return any(isinstance(share, BySchedule) for share in shares) or any(
        each is not None and each.schedule is not None for each in given
    )


def _history(driven: Driven) -> History:
    if driven.history is None:
        return _constant(driven.amplitude)
    return History(time=driven.history.time, value=driven.amplitude * driven.history.value)


def _given(surface: Surface, efficiency: float, how: Plan, period: float) -> dict[str, History]:
    """Absorbed heat that the file states itself."""
    found = {}
    for cause in Absorbed.model_fields:
        stated = getattr(surface.absorbed, cause)
        if stated is not None:
            schedule, watts = stated.schedule, stated.heat * efficiency
            if schedule is None:
                found[cause] = _constant(watts)
            else:
                found[cause] = _following(0.0, watts, schedule, how, period)
    return found


def _temperature(boundary: Boundary, how: Plan, period: float) -> History:
    if boundary.schedule is None:
        return _constant(boundary.temperature)
    return _following(boundary.temperature, boundary.swing, boundary.schedule, how, period)


def _constant(value: float) -> History:
    return History(time=np.zeros(1), value=np.array([value]))


def _following(start: float, swing: float, schedule: str, how: Plan, period: float) -> History:
    """`start + swing x schedule` over one period; its mean where the case is steady."""
    repeated = how.schedules[schedule]
    if how.solve == "steady":
        return _constant(start + swing * repeated.mean(0.0))
    once = unrolled(repeated.once, repeated.period, period)
    return History(time=once.time, value=start + swing * once.value)


def _sink(
    heat: list[History], sinks: list[tuple[History, History]], strength: float, period: float
) -> Sink | None:
    """(sum of share x T^4 + heat / (sigma area emittance)) / sum of shares, to the power 1/4.

    `sinks` are the share and the temperature of each boundary that is seen; `strength` is area
    times emittance [m2].
    """
    if not sinks:
        return None
    histories = [each for pair in sinks for each in pair] + heat
    grid = common_grid(histories)
    first, last = grid.start, grid.stop
    time = grid.instants
    count = len(sinks)

    def fourth(values: Floats) -> tuple[Floats, Floats]:
        share, temperature = values[:, 0 : 2 * count : 2], values[:, 1 : 2 * count : 2]
        glow = (share * temperature**4).sum(axis=1)
        light = values[:, 2 * count :].sum(axis=1) / (STEFAN_BOLTZMANN * strength)
        return glow + light, share.sum(axis=1)

    ends = [fourth(first), fourth(last)]
    width = np.clip(time[1:], 0.0, period) - np.clip(time[:-1], 0.0, period)
    weight = width if width.sum() > 0.0 else np.ones(len(width))
    # Simpson's rule, since T^4 bends between instants that a boundary's straight lines join.
    parts = (ends[0], fourth((first + last) / 2.0), ends[1])
    received, shares = (
        ((parts[0][k] + 4.0 * parts[1][k] + parts[2][k]) / 6.0 * weight).sum() / weight.sum()
        for k in range(2)
    )
    if shares <= NO_SHARE:
        return None
    inside = time[:-1] <= period
    shown = np.concatenate(
        [
            each[0][seen] / each[1][seen]
            for each in ends
            if (seen := inside & (each[1] > NO_SHARE)).any()
        ]
    )
    return Sink(
        mean=float((received / shares) ** 0.25),
        lowest=float(shown.min() ** 0.25),
        highest=float(shown.max() ** 0.25),
    )
