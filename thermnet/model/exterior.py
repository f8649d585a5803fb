"""What every surface of a model is in a case: its optics, what it sees, and what it absorbs."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from thermnet.errors import InputError, Problem, nearest
from thermnet.model.histories import mean, unrolled
from thermnet.model.kinds.directions import unit_vector
from thermnet.model.kinds.finish import Finish, absorptance, emittance, finish
from thermnet.model.kinds.kind import Driven, Exterior
from thermnet.model.kinds.site import Site
from thermnet.model.kinds.surface import ByAngle, Surface
from thermnet.model.model import Model
from thermnet.model.sky import Sky
from thermnet.network.parts import History
from thermnet.physics.curves import Floats
from thermnet.physics.exposure import Exposure, Face, Flight, exposure
from thermnet.physics.orbit import instant_at_angle


@dataclass(frozen=True, slots=True, kw_only=True)
class Optics:
    """Solar absorptance (NaN where nobody states it) and infrared emittance in a case."""

    absorptance: float
    emittance: float


def exteriors(model: Model, sky: Sky | None, life: str | None, span: float) -> dict[str, Exterior]:
    """Every surface of a model, by name, from 0 to `span` [s]; for a span of 0 its time means.

    Raises InputError with all problems: finishes without a life, and surfaces with a direction
    where there is no Sun.
    """
    surfaces = model.entries(Surface, "surfaces")
    finishes = model.entries(Finish, "finishes")
    optics: dict[str, Optics] = {}
    problems = list(_unknown(model, surfaces))
    for name, surface in surfaces.items():
        try:
            optics[name] = _optics(surface, finishes, life)
        except ValueError as error:
            path = f"surfaces.{name}.finish"
            if surface.finish in finishes:
                path = f"finishes.{surface.finish}"
            if life is None and "say `life`" in str(error):
                path = f"cases.{model.case}"
            problems.append(Problem(message=str(error), path=path))
    faces = {name: _face(surface) for name, surface in surfaces.items() if surface.faces_out}
    received: Exposure | None = None
    if sky is not None and faces:
        distinct = tuple(dict.fromkeys(faces.values()))
        try:
            received = exposure(sky.setting, distinct)
        except ValueError as error:
            problems += _undefined(sky, faces, str(error))
    if problems:
        raise InputError(model.located(problems))
    places = {face: k for k, face in enumerate(dict.fromkeys(faces.values()))}
    found = {}
    for name, surface in surfaces.items():
        fractions = {each: _fraction(part, sky) for each, part in surface.fractions.items()}
        heat: dict[str, Driven] = {}
        if sky is not None and received is not None and name in faces:
            column = places[faces[name]]
            heat = _absorbed(surface, optics[name], sky, received, column, fractions)
            if sky.site is not None:
                below = History(time=received.time, value=received.planet[:, column])
                fractions = _with_ground(fractions, below, sky.site)
        found[name] = Exterior(
            absorptance=optics[name].absorptance,
            emittance=optics[name].emittance,
            fractions={each: _over(part, sky, span) for each, part in fractions.items()},
            heat={cause: _over(part, sky, span) for cause, part in heat.items()},
        )
    return found


def _unknown(model: Model, surfaces: Mapping[str, Surface]) -> Iterator[Problem]:
    """Names that surfaces see and nothing bears."""
    seen = {name: each for name, each in surfaces.items() if each.sees}
    if not seen:
        return
    names = model.names()
    known = {**dict.fromkeys(names["nodes"]), **dict.fromkeys(names["boundaries"])}
    for name, surface in seen.items():
        for each in surface.sees:
            if each not in known:
                message = f"there is no node or boundary '{each}'{nearest(each, known)}"
                yield Problem(message=message, path=f"surfaces.{name}.sees.{each}")


def _optics(surface: Surface, finishes: Mapping[str, Finish], life: str | None) -> Optics:
    """Absorptance and emittance: the surface's own, or else those of its finish."""
    absorbs, emits = surface.absorptance, surface.emittance
    if surface.finish is not None:
        facts = finish(surface.finish, finishes)
        if absorbs is None and surface.faces_out:
            absorbs = absorptance(facts, life)
        if emits is None:
            emits = emittance(facts, life)
    if emits is None:
        raise ValueError("missing key 'emittance'")
    return Optics(absorptance=math.nan if absorbs is None else absorbs, emittance=emits)


def _face(surface: Surface) -> Face:
    axis = {"plate": surface.normal, "cylinder": surface.along, "sphere": None}[surface.shape]
    if surface.follows_sun is not None:
        axis = surface.about
    return Face(
        axis=None if axis is None else unit_vector(axis),
        cylinder=surface.shape == "cylinder",
        follows=surface.follows_sun or "",
        back=surface.side == "back",
    )


def _undefined(sky: Sky, faces: Mapping[str, Face], message: str) -> Iterator[Problem]:
    """Which surface, or else which pointing, an exposure cannot be computed for."""
    blamed = [f"surfaces.{name}" for name, face in faces.items() if not _alone(sky, face)]
    if len(blamed) == len(faces) or not blamed:
        yield Problem(message=message, path=sky.pointing)
        return
    for path in blamed:
        yield Problem(message=message, path=path)


def _alone(sky: Sky, face: Face) -> bool:
    try:
        exposure(sky.setting, (face,))
    except ValueError:
        return False
    return True


def _fraction(fraction: float | ByAngle, sky: Sky | None) -> Driven:
    """A fraction of what a surface sees, over one orbit; its mean where there is none."""
    if not isinstance(fraction, ByAngle):
        return Driven(amplitude=fraction)
    angle = np.unique([0.0, *fraction.angle, 360.0])
    share: Floats = np.interp(angle, fraction.angle, fraction.fraction, period=360.0)
    flight = None if sky is None else sky.setting
    if not isinstance(flight, Flight):
        return Driven(amplitude=mean(History(time=angle, value=share), 360.0))
    time = instant_at_angle(flight.orbit, np.radians(angle))
    time[-1] = flight.period
    return Driven(amplitude=1.0, history=History(time=time, value=share))


def _with_ground(fractions: Mapping[str, Driven], below: History, site: Site) -> dict[str, Driven]:
    """At a site the ground takes its view from the sky's, by the tilt of the surface."""
    first, *others = fractions
    above = History(time=below.time, value=1.0 - below.value)
    glowing = History(time=below.time, value=below.value * site.ground_emittance)
    share = fractions[first].amplitude
    found = {first: Driven(amplitude=share, history=above)}
    found |= {name: fractions[name] for name in others}
    return found | {site.ground: Driven(amplitude=share, history=glowing)}


def _absorbed(
    surface: Surface,
    optics: Optics,
    sky: Sky,
    received: Exposure,
    column: int,
    fractions: Mapping[str, Driven],
) -> dict[str, Driven]:
    """Absorbed heat [W] by cause, over one orbit; only what there is."""
    open_sky = next(iter(fractions.values()))
    lit = _fraction(surface.sunlit, sky)
    light = optics.absorptance * surface.area * sky.sunlight
    direct, reflected, planet, air = (
        each[:, column]
        for each in (received.direct, received.reflected, received.planet, received.air)
    )
    parts = {
        "solar": (light, direct, lit),
        "albedo": (light * sky.albedo, reflected, open_sky),
        "planet_infrared": (
            optics.emittance * surface.area,
            sky.infrared * planet + sky.day_infrared * reflected,
            open_sky,
        ),
        "free_molecular": (surface.area * sky.accommodation, air, lit),
    }
    return {
        cause: Driven(
            amplitude=factor, history=product(History(time=received.time, value=shape), share)
        )
        for cause, (factor, shape, share) in parts.items()
        if factor > 0.0 and shape.max() > 0.0
    }


def _over(driven: Driven, sky: Sky | None, span: float) -> Driven:
    """Unrolled over the span, or its mean for a span of 0; constant where nothing changes."""
    history = driven.history
    if history is None:
        return driven
    period = None if sky is None else sky.period
    if period is None or (history.value == history.value[0]).all():
        return Driven(amplitude=driven.amplitude * float(history.value[0]))
    if span == 0.0:
        return Driven(amplitude=driven.amplitude * mean(history, period))
    return Driven(amplitude=driven.amplitude, history=unrolled(history, period, span))


def product(history: History, factor: Driven) -> History:
    """A history times a factor, on the instants of both; jumps of the history stay."""
    if factor.history is None:
        return History(time=history.time, value=history.value * factor.amplitude)
    new = np.setdiff1d(factor.history.time, history.time)
    at = np.searchsorted(history.time, new)
    time = np.insert(history.time, at, new)
    value = np.insert(history.value, at, np.interp(new, history.time, history.value))
    share: Floats = np.interp(time, factor.history.time, factor.history.value)
    return History(time=time, value=value * share * factor.amplitude)
