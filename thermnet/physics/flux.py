"""What faces of a spacecraft receive from the Sun's beam, from a planet, and from its lit part.

All results are per area of the face, before any absorptance. Bodies do not shade each other. All
vectors are unit vectors in one frame at each instant, that of the faces, which may itself turn.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermnet.physics.albedo import lit, lit_dome
from thermnet.physics.curves import Floats
from thermnet.physics.view import SIDE, aspect, plate_to_sphere, sphere_to_sphere, swept_to_sphere

UNIT = 1e-6
"""By how much the length of a unit vector may be wrong."""

AT_ONCE = 32
"""Instants whose domes are built together."""

BLOCK = 64
"""Faces that are held against a dome together, so that the table stays in the processor's cache."""

Indices = np.ndarray[tuple[int, ...], np.dtype[np.intp]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Faces:
    """n surfaces by axis, f8[n, 3], or f8[k, n, 3] if they turn by instant, and cone f8[n] [rad].

    A plate has its normal as axis and cone 0, the side of a cylinder its axis and pi/2, a plate
    on a spinning body the spin axis and the angle between; NaN is a sphere, whose axis may be
    any. Raises ValueError for shapes that do not fit, or an axis that is no unit vector.
    """

    axis: Floats
    cone: Floats

    def __post_init__(self) -> None:
        if self.axis.ndim not in {2, 3} or self.axis.shape[-2:] != (*self.cone.shape, 3):
            raise ValueError("faces need an axis of three numbers and a cone each")
        _check_unit(self.axis, "an axis")

    def axis_at(self, instant: int) -> Floats:
        """f8[n, 3]."""
        return self.axis if self.axis.ndim == 2 else self.axis[instant]

    def cosine(self, direction: Floats) -> Floats:
        """Cosine f8[k, n] between each axis and a direction f8[k, 3] by instant."""
        if self.axis.ndim == 2:
            return direction @ self.axis.T
        return np.asarray(np.einsum("kni,ki->kn", self.axis, direction))

    def kinds(self) -> list[Indices]:
        """Indices of plates, of sides of cylinders, of other swept faces, and of spheres."""
        sphere = np.isnan(self.cone)
        plate, side = self.cone == 0.0, self.cone == SIDE
        other = ~(sphere | plate | side)
        return [np.flatnonzero(kind) for kind in (plate, side, other, sphere)]


def sunlight(faces: Faces, sun: Floats) -> Floats:
    """Projected area over area towards the Sun f8[k, n]: flux over the Sun's irradiance.

    `sun` f8[k, 3]. Raises ValueError for what is no unit vector.
    """
    _check_unit(sun, "a direction of the Sun")
    return aspect(faces.cosine(sun), faces.cone)


def planet_view(faces: Faces, nadir: Floats, ratio: Floats) -> Floats:
    """View factors f8[k, n] to a planet: flux over what each area of it radiates, diffuse, alike.

    `nadir` f8[k, 3] points to its centre; `ratio` f8[k] is the distance from there over the
    radius. Raises ValueError for a ratio below 1 and for what is no unit vector.
    """
    _check_unit(nadir, "a nadir")
    plate, side, other, sphere = faces.kinds()
    swept = np.concatenate([side, other])
    cosine, H = faces.cosine(nadir), ratio[:, None]
    view = np.empty_like(cosine)
    view[:, plate] = plate_to_sphere(H, cosine[:, plate])
    view[:, swept] = swept_to_sphere(H, cosine[:, swept], faces.cone[swept])
    view[:, sphere] = sphere_to_sphere(H)
    return view


def reflected(faces: Faces, nadir: Floats, ratio: Floats, sun: Floats) -> Floats:
    """Flux f8[k, n] from the sunlit part of a diffuse planet over its albedo x irradiance.

    Arguments as for `sunlight` and `planet_view`; sunlight is that at the planet. Also the
    infrared of an airless body over absorbed share x irradiance, where every place radiates what
    it absorbs. Raises ValueError for a ratio below 1 and for what is no unit vector.
    """
    _check_unit(nadir, "a nadir")
    _check_unit(sun, "a direction of the Sun")
    flux = np.zeros((len(nadir), len(faces.cone)))
    seen = np.flatnonzero(lit(nadir, ratio, sun))
    *with_axis, sphere = faces.kinds()
    blocks = [some[k : k + BLOCK] for some in with_axis for k in range(0, len(some), BLOCK)]
    for first in range(0, len(seen), AT_ONCE):
        instants = seen[first : first + AT_ONCE]
        dome = lit_dome(nadir[instants], ratio[instants], sun[instants])
        flux[np.ix_(instants, sphere)] = aspect(0.0, np.nan) * dome.weight.sum(axis=1)[:, None]
        for k, instant in enumerate(instants):
            axis, towards = faces.axis_at(int(instant)), dome.direction[k].T
            for block in blocks:
                area = aspect(axis[block] @ towards, faces.cone[block, None])
                flux[instant, block] = area @ dome.weight[k]
    return flux


def _check_unit(vectors: Floats, what: str) -> None:
    if vectors.shape[-1:] != (3,):
        raise ValueError(f"{what} needs three numbers")
    length = np.sqrt(np.einsum("...i,...i->...", vectors, vectors))
    if not (np.abs(length - 1.0) <= UNIT).all():
        raise ValueError(f"{what} must be a unit vector")
