"""What the faces of a body receive of Sun, planet and air, through an orbit or a day.

Everything here is geometry: shares of sunlight, of reflected sunlight and of the planet's view. How
strong sunlight, albedo and infrared are, and how a face absorbs them, are factors on these, so that
a change of finish or environment computes nothing anew.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

import numpy as np

from thermnet.physics import attitude, flux, ground, molecular, orbit, shadow
from thermnet.physics.curves import Floats
from thermnet.physics.sampling import sample
from thermnet.physics.setting import Attitude, Cruise, Face, Flight, Setting, Stand, Vector

TOLERANCE = 1e-3
"""Error of a history's peak, and of its integral, that sampling may leave, as a share of them."""

APART = 1e-4
"""s within which two edges are one."""

NOTHING = 1e-12
"""Share, or W/m2 of air, below which a face receives nothing."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Exposure:
    """What each of n faces receives at each of k instants, straight lines in between.

    `time` f8[k] [s], a repeated instant is a jump. f8[k, n]: `direct` is the share of sunlight on
    the face (mean over its area), shadow included; `reflected` the flux of light that a planet of
    albedo 1 reflects, over sunlight; `planet` the view factor to the planet; `air` the power of
    oncoming molecules [W/m2]. At a site the ground is the planet.
    """

    time: Floats
    direct: Floats
    reflected: Floats
    planet: Floats
    air: Floats


@functools.lru_cache(maxsize=32)
def exposure(setting: Setting, faces: tuple[Face, ...], tolerance: float = TOLERANCE) -> Exposure:
    """Sample what the faces receive, over one period from 0.

    Straight lines hold the integral and the peak of the sunlight, and of albedo and infrared
    together, within `tolerance`.

    A pure function of its arguments: the last few answers are kept, so that a sweep that touches
    neither orbit, pointing nor surfaces computes none of it again. Raises ValueError with a
    sentence where an attitude or a face is not defined.
    """
    if isinstance(setting, Flight):
        _check_axes(setting, faces)
    if isinstance(setting, Cruise):
        time: Floats = np.zeros(1)
        value = _cruising(setting, faces)
    else:
        received = _in_flight if isinstance(setting, Flight) else _on_ground
        found = sample(
            lambda t: _without_rounding(received(setting, faces, t)),  # type: ignore[arg-type]
            edges(setting),
            tolerance,
            judged=_what_counts,
        )
        time, value = _tidy(found.time, setting.period), found.value
    parts = np.moveaxis(value.reshape(len(time), 4, len(faces)), 1, 0)
    for array in (time, *parts):
        array.flags.writeable = False
    direct, reflected, planet, air = parts
    return Exposure(time=time, direct=direct, reflected=reflected, planet=planet, air=air)


def _check_axes(flight: Flight, faces: tuple[Face, ...]) -> None:
    """Raise ValueError for a face whose axis points to the Sun all along: its angle is open."""
    axes = [face.axis for face in faces if face.follows and face.axis is not None]
    if not axes:
        return
    t = np.linspace(0.0, flight.period, 9)
    for _, how in flight.attitudes:
        sun = attitude.in_body(_axes(how, _directions(flight, t), t), np.array(flight.sun))
        for axis in axes:
            if (np.linalg.norm(np.cross(sun, np.array(axis)), axis=1) < 1e-9).all():
                raise ValueError(
                    "the Sun stands along the axis that this surface turns about: choose another "
                    "axis, or a beta angle beside this one"
                )


def _directions(flight: Flight, t: Floats) -> dict[str, Floats]:
    """Unit vectors f8[j, 3], or f8[3] where they stay, that an axis may point to."""
    position, velocity = orbit.position(flight.orbit, t), orbit.velocity(flight.orbit, t)
    nadir = -position / np.linalg.norm(position, axis=1)[:, None]
    return {
        "nadir": nadir,
        "zenith": -nadir,
        "velocity": velocity / np.linalg.norm(velocity, axis=1)[:, None],
        "orbit normal": orbit.normal(flight.orbit),
        "sun": np.array(flight.sun),
        "north": np.array([0.0, 0.0, 1.0]),
    }


def _tidy(time: Floats, period: float) -> Floats:
    """Instants to the nanosecond, so that those of several histories meet where they should."""
    return np.where(time >= period, period, np.minimum(np.round(time, 9), period))


def _without_rounding(value: Floats) -> Floats:
    """Zero for what rounding left of it: nothing is asked of a face that stays in the dark."""
    return np.where(value < NOTHING, 0.0, value)


def _what_counts(value: Floats) -> Floats:
    """Sunlight, what comes from the planet, and air: what is sampled within the tolerance.

    Albedo and infrared count together, in about the strength that they have near the Earth (1361 x
    0.3 and 237 W/m2): alone, a little light near the edge of the night would ask for too much.
    """
    direct, reflected, planet, air = np.split(value, 4, axis=1)
    return np.hstack([direct, 1.7 * reflected + planet, air])


def edges(setting: Flight | Stand) -> Floats:
    """Instants f8[m] [s] between which everything is smooth: shadow edges, changes of attitude."""
    last = setting.period
    if isinstance(setting, Stand):
        up = float(ground.day_length(setting.latitude, setting.declination, setting.day))
        inside = [up / 2.0, last - up / 2.0] if 0.0 < up < last else []
    else:
        angles = np.array([angle for angle, _ in setting.attitudes[1:]])
        if setting.orbit.eccentricity > 0.0:
            # Near the lowest point of a long ellipse everything happens within a short time.
            angles = np.append(angles, np.linspace(0.0, 2.0 * math.pi, 25)[1:-1])
        turns = orbit.instant_at_angle(setting.orbit, angles) if len(angles) else np.empty(0)
        inside = [*turns.tolist(), *shadow_edges(setting).tolist()]
    found = np.unique([each for each in inside if APART < each < last - APART])
    found = found[np.append(True, np.diff(found) > APART)] if len(found) else found
    return np.concatenate([[0.0], found, [last]])


def shadow_edges(flight: Flight) -> Floats:
    """Instants f8[m] [s] at which light begins or ends to fade, or to come back."""
    return shadow.shadow_instants(
        flight.orbit, np.array(flight.sun), flight.radius, flight.sun_distance
    )


@functools.lru_cache(maxsize=32)
def light(setting: Setting) -> tuple[Floats, Floats]:
    """Share of the Sun f8[k] that is seen, 0 to 1, at instants f8[k] [s] of one period.

    Straight lines in between, a repeated instant is a jump; in a penumbra a few points follow the
    Sun's disc.
    """
    if isinstance(setting, Cruise):
        return np.zeros(1), np.ones(1)

    def seen(t: Floats) -> Floats:
        if isinstance(setting, Stand):
            return np.asarray(_sun_on_ground(setting, t)[:, 2] > 0.0, dtype=np.float64)
        return _lit(setting, orbit.position(setting.orbit, t))

    time: list[Floats] = []
    value: list[Floats] = []
    known = edges(setting)
    for begin, end in zip(known[:-1], known[1:], strict=True):
        inset = min(1e-6, 1e-3 * (end - begin))
        # Between edges all the Sun is seen, or none, or ever more or less of it.
        middle = float(seen(np.array([(begin + end) / 2.0]))[0])
        fades = 0.0 < middle < 1.0
        within = np.linspace(begin, end, 9 if fades else 2)
        asked = np.clip(within, begin + inset, end - inset)
        time.append(within)
        value.append(np.round(seen(asked), 6) if fades else np.full(2, middle))
    times, values = _tidy(np.concatenate(time), setting.period), np.concatenate(value)
    same = (np.diff(times) == 0.0) & (np.diff(values) == 0.0)
    kept = np.append(True, ~same)
    times, values = times[kept], values[kept]
    for array in (times, values):
        array.flags.writeable = False
    return times, values


def _lit(flight: Flight, position: Floats) -> Floats:
    return shadow.lit_fraction(position, np.array(flight.sun), flight.radius, flight.sun_distance)


def _in_flight(flight: Flight, faces: tuple[Face, ...], t: Floats) -> Floats:
    """Direct, reflected, planet and air, f8[j, 4 n], at instants f8[j]."""
    begins = np.array([angle for angle, _ in flight.attitudes])
    angle = np.mod(orbit.orbit_angle(flight.orbit, t), 2.0 * math.pi)
    # A whole turn is the end of the case, not its beginning.
    angle = np.where((angle == 0.0) & (t > flight.period / 2.0), 2.0 * math.pi, angle)
    which = np.searchsorted(begins, angle, side="right") - 1
    found = np.empty((len(t), 4 * len(faces)))
    for k, (_, how) in enumerate(flight.attitudes):
        if (at := which == k).any():
            found[at] = _held(flight, how, faces, t[at])
    return found


def _held(flight: Flight, how: Attitude, faces: tuple[Face, ...], t: Floats) -> Floats:
    """`_in_flight` in one attitude."""
    position = orbit.position(flight.orbit, t)
    distance = np.linalg.norm(position, axis=1)
    speed = np.linalg.norm(orbit.velocity(flight.orbit, t), axis=1)
    known = _directions(flight, t)
    turn = _axes(how, known, t)
    sun, nadir, ahead = (
        attitude.in_body(turn, known[each]) for each in ("sun", "nadir", "velocity")
    )
    seen = _faces(how, faces, sun)
    ratio = distance / flight.glow_radius
    lit = _lit(flight, position)
    power: Floats = np.zeros(len(t))
    if flight.air is not None:
        known_density, height, scale = flight.air
        density = molecular.density_at(
            distance - flight.radius,
            density=known_density,
            reference_altitude=height,
            scale_height=scale,
        )
        power = molecular.free_molecular_heating(1.0, density, speed, np.ones(len(t)))
    return np.hstack(
        [
            flux.sunlight(seen, sun) * lit[:, None],
            flux.reflected(seen, nadir, ratio, sun),
            flux.planet_view(seen, nadir, ratio),
            flux.sunlight(seen, ahead) * power[:, None],
        ]
    )


def _cruising(cruise: Cruise, faces: tuple[Face, ...]) -> Floats:
    known = {"sun": np.array(cruise.sun)}
    turn = _axes(cruise.attitude, known, np.zeros(1))
    sun = attitude.in_body(turn, known["sun"])
    direct = flux.sunlight(_faces(cruise.attitude, faces, sun), sun)
    return np.hstack([direct, np.zeros((1, 3 * len(faces)))])


def _sun_on_ground(stand: Stand, t: Floats) -> Floats:
    hour_angle = 2.0 * math.pi * t / stand.day
    return ground.local_sun(stand.latitude, stand.declination, hour_angle)


def _on_ground(stand: Stand, faces: tuple[Face, ...], t: Floats) -> Floats:
    up = np.array([0.0, 0.0, 1.0])
    local = _sun_on_ground(stand, t)
    known = {
        "zenith": up,
        "north": np.array([0.0, 1.0, 0.0]),
        "east": np.array([1.0, 0.0, 0.0]),
        "sun": local,
    }
    turn = _axes(stand.attitude, known, t)
    sun, up = attitude.in_body(turn, local), attitude.in_body(turn, up)
    seen = _faces(stand.attitude, faces, sun)
    elevation = np.maximum(local[:, 2], 0.0)[:, None]
    direct = flux.sunlight(seen, sun) * (elevation > 0.0)
    # The views are linear in the cosine, so that a shape takes the mean cosine of its parts.
    upwards = (seen.axis @ up[:, :, None])[..., 0] * np.cos(np.nan_to_num(seen.cone, nan=np.pi / 2))
    below = ground.ground_view(np.arccos(np.clip(upwards, -1.0, 1.0)))
    return np.hstack([direct, below * elevation, below, np.zeros_like(direct)])


def _axes(how: Attitude, known: dict[str, Floats], t: Floats) -> Floats:
    """Matrices f8[j, 3, 3] into the body's axes, from the directions that are known there."""

    def wanted(target: str | Vector) -> Floats:
        if isinstance(target, tuple):
            return np.broadcast_to(np.array(target), (len(t), 3))
        word = target.removeprefix("against ")
        if word not in known:
            raise ValueError(f"there is no '{word}' to point to here; there are {', '.join(known)}")
        return np.broadcast_to(known[word] if word == target else -known[word], (len(t), 3))

    first, first_to = np.array(how.axis), wanted(how.to)
    if how.second_axis is None or how.second_to is None:
        return attitude.body_axes(first, first_to, _aside(first), _aside(first_to))
    return attitude.body_axes(
        first,
        first_to,
        np.array(how.second_axis),
        wanted(how.second_to),
        instant=lambda k: f"{t[k]:.1f} s",
    )


def _aside(vectors: Floats) -> Floats:
    """For each vector f8[..., 3] the axis of its frame that it lies least along."""
    return np.asarray(np.eye(3)[np.argmin(np.abs(vectors), axis=-1)])


def _faces(how: Attitude, faces: tuple[Face, ...], sun: Floats) -> flux.Faces:
    """The faces at j instants, with the Sun f8[j, 3] in the body's axes."""
    turning = any(face.follows for face in faces)
    axis = np.zeros((len(sun), len(faces), 3) if turning else (1, len(faces), 3))
    cone = np.zeros(len(faces))
    for k, face in enumerate(faces):
        if face.follows:
            if how.spin:
                raise ValueError("nothing follows the Sun on a body that spins")
            normal = sun if face.axis is None else attitude.following(np.array(face.axis), sun)
            axis[:, k] = -normal if face.back else normal
        elif face.axis is None:
            axis[:, k], cone[k] = (0.0, 0.0, 1.0), np.nan
        else:
            axis[:, k], cone[k] = _swept(how, face, face.axis)
    return flux.Faces(axis=axis if turning else axis[0], cone=cone)


def _swept(how: Attitude, face: Face, axis: Vector) -> tuple[Vector, float]:
    """Axis and cone angle of a fixed face: its own, or those it has in a turn of the body."""
    if not how.spin:
        return axis, math.pi / 2.0 if face.cylinder else 0.0
    cosine = float(np.clip(np.dot(axis, how.axis), -1.0, 1.0))
    if not face.cylinder:
        return how.axis, math.acos(cosine)
    if abs(cosine) < 1.0 - 1e-9:
        raise ValueError("a cylinder on a body that spins needs its axis along that of the spin")
    return axis, math.pi / 2.0
