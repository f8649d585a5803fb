"""The lunar orbiter as bare arrays: an independent answer, from numbers that stand here.

No import of thermnet and no reading of model.yaml. SI units, thresholds in degC.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.cases_bare import bare
from tests.cases_bare.bare import Array, History
from tests.cases_bare.heat_of_orbit import SUNLIGHT, Light, Orbit, Surface
from tests.cases_bare.orbiter import Case, Craft

RADIUS, GRAVITY, HEIGHT = 1737400.0, 4.902800582e12, 100e3
ECCENTRICITY = 0.01671022  # of the Earth's orbit about the Sun
PERIOD = float(2.0 * np.pi * np.sqrt((RADIUS + HEIGHT) ** 3 / GRAVITY))

NODES = {
    "radiator panel": 5200.0,
    "nadir deck": 3600.0,
    "frame": 6300.0,
    "flight computer": 2000.0,
    "power unit": 2500.0,
    "transmitter": 1600.0,
    "battery": 3800.0,
    "wheels": 2400.0,
    "star camera": 540.0,
    "mapping camera": 3100.0,
    "propellant tank": 9900.0,
    "thruster": 250.0,
    "antenna": 300.0,
    "array": 1700.0,
    "blanket face +x": 30.0,
    "blanket face -x": 30.0,
    "blanket face +y": 30.0,
    "blanket face -y": 30.0,
    "blanket face +z": 22.0,
    "tank blanket face": 0.0,
}
LINKS = (
    ("frame", "radiator panel", 0.60),
    ("frame", "nadir deck", 0.50),
    ("flight computer", "radiator panel", 1.5),
    ("power unit", "radiator panel", 1.7),
    ("transmitter", "radiator panel", 1.5),
    ("wheels", "frame", 2.0),
    ("battery", "radiator panel", 0.18),
    ("battery", "frame", 0.10),
    ("star camera", "frame", 0.25),
    ("mapping camera", "nadir deck", 0.08),
    ("mapping camera", "radiator panel", 0.35),
    ("propellant tank", "frame", 0.08),
    ("thruster", "frame", 0.05),
    ("antenna", "frame", 0.06),
    ("array", "frame", 0.02),
)
RADIATION = (
    ("frame", "radiator panel", 0.10),
    ("frame", "nadir deck", 0.10),
    ("radiator panel", "nadir deck", 0.04),
    ("battery", "frame", 0.015),
    ("tank blanket face", "frame", 0.16),
)
BLANKETS = (
    ("frame", "blanket face +x", 0.30, 0.012, 0.035),
    ("frame", "blanket face -x", 0.30, 0.012, 0.035),
    ("frame", "blanket face +y", 0.30, 0.012, 0.035),
    ("frame", "blanket face -y", 0.30, 0.012, 0.035),
    ("nadir deck", "blanket face +z", 0.22, 0.012, 0.035),
    ("propellant tank", "tank blanket face", 0.24, 0.03, 0.08),
)
# surface, node, area, solar absorptance new and old, emittance, face
SURFACES = (
    ("radiator", "radiator panel", 0.15, 0.07, 0.15, 0.80, "-z"),
    ("star aperture", "star camera", 0.006, 0.95, 0.95, 0.90, "-z"),
    ("camera aperture", "mapping camera", 0.008, 0.95, 0.95, 0.90, "+z"),
    ("blanket +x", "blanket face +x", 0.30, 0.42, 0.55, 0.72, "+x"),
    ("blanket -x", "blanket face -x", 0.30, 0.42, 0.55, 0.72, "-x"),
    ("blanket +y", "blanket face +y", 0.30, 0.42, 0.55, 0.72, "+y"),
    ("blanket -y", "blanket face -y", 0.30, 0.42, 0.55, 0.72, "-y"),
    ("blanket +z", "blanket face +z", 0.22, 0.42, 0.55, 0.72, "+z"),
    ("antenna", "antenna", 0.012, 0.20, 0.35, 0.88, "+z"),
    ("thruster", "thruster", 0.010, 0.50, 0.50, 0.30, "-x"),
    ("array front", "array", 0.60, 0.74, 0.74, 0.81, "to the Sun"),
    ("array back", "array", 0.60, 0.20, 0.35, 0.88, "from the Sun"),
)
LOADS = (
    ("flight computer", "flight computer", 10.0, ""),
    ("power unit", "power unit", 7.0, ""),
    ("power unit in sunlight", "power unit", 3.0, "sunlit"),
    ("battery", "battery", 1.0, ""),
    ("battery discharging", "battery", 2.5, "in shadow"),
    ("wheels", "wheels", 9.0, ""),
    ("star camera", "star camera", 1.8, ""),
    ("receiver", "transmitter", 3.0, ""),
    ("transmitter", "transmitter", 20.0, "Earth contact"),
    ("mapping camera", "mapping camera", 9.0, "mapping"),
)
HEATERS = (
    ("battery", 12.0, 10.0, 12.0),
    ("propellant tank", 8.0, 14.0, 16.0),
    ("mapping camera", 10.0, 0.0, 2.0),
)


def faces(position: Array, velocity: Array, sun: Array) -> dict[str, Array]:
    """Normals f8[k, 3]: +z to the Moon, +x along the circle, the array square to the Sun."""
    z = -position / np.linalg.norm(position, axis=1)[:, None]
    x = velocity / np.linalg.norm(velocity, axis=1)[:, None]
    y = np.cross(z, x)
    array = np.broadcast_to(sun, z.shape)
    body = {"+x": x, "-x": -x, "+y": y, "-y": -y, "+z": z, "-z": -z}
    return body | {"to the Sun": array, "from the Sun": -array}


CRAFT = Craft(
    nodes=NODES,
    links=LINKS,
    radiation=RADIATION,
    blankets=BLANKETS,
    surfaces=[
        (Surface(name=name, node=node, area=area, absorptance=new, emittance=emittance, face=face),
         old)
        for name, node, area, new, old, emittance, face in SURFACES
    ],
    faces=faces,
    loads=LOADS,
    heaters=HEATERS,
)  # fmt: skip

SCHEDULES: dict[str, History] = {
    "mapping": bare.steps((0.0, 1.0), (1000.0, 0.0), (6100.0, 1.0), end=PERIOD),
    "Earth contact": bare.steps((0.0, 0.0), (1500.0, 1.0), (3000.0, 0.0), end=PERIOD),
}


def orbit(beta: float, sun_distance: float) -> Orbit:
    """A circle at 100 km; beta in degrees, the Sun's distance in au."""
    return Orbit(
        gravity=GRAVITY, radius=RADIUS, lowest=HEIGHT, highest=HEIGHT,
        beta=float(np.radians(beta)), sun_distance=sun_distance,
    )  # fmt: skip


def light(sun_distance: float) -> Light:
    """1261.9 W/m2 below the Sun at 1 au, 5.2 at night: night + (day - night) cos z."""
    return Light(
        sunlight=SUNLIGHT / sun_distance**2,
        albedo=0.11,
        infrared=5.2,
        day=1261.9 / sun_distance**2 - 5.2,
    )


NEAR, FAR = 1.0 - ECCENTRICITY, 1.0 + ECCENTRICITY
COLD = Case(
    orbit=orbit(-90.0, FAR), light=light(FAR), old=False, blankets="high", voltage=26.0,
    schedules=SCHEDULES, loads=0.8, absorptance_of={"array front": 0.66},
)  # fmt: skip
CASES = {
    "hot": Case(
        orbit=orbit(0.0, NEAR), light=light(NEAR), old=True, blankets="low", voltage=32.0,
        schedules=SCHEDULES,
    ),
    "cold": COLD,
    "shadow": replace(COLD, orbit=orbit(0.0, FAR)),
    "safe": replace(
        COLD, orbit=orbit(-75.0, FAR),
        heat_of={"transmitter": 0.0, "mapping camera": 0.0, "wheels": 0.0},
    ),
}  # fmt: skip
