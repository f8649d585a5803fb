"""The Mars orbiter as bare arrays: an independent answer, from numbers that stand here.

No import of thermnet and no reading of model.yaml. SI units, thresholds in degC.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.cases_bare import bare
from tests.cases_bare.bare import Array, History
from tests.cases_bare.heat_of_orbit import SUNLIGHT, Light, Orbit, Surface
from tests.cases_bare.orbiter import Case, Craft

RADIUS, GRAVITY = 3396190.0, 4.2828375662e13
LOWEST, HIGHEST = 300e3, 6000e3
MEAN, NEAR, FAR = 1.52366231, 1.381333463, 1.665991157  # au
PERIOD = float(2.0 * np.pi * np.sqrt((RADIUS + (LOWEST + HIGHEST) / 2.0) ** 3 / GRAVITY))

NODES = {
    "radiator panel": 9000.0,
    "frame": 24000.0,
    "flight computer": 3600.0,
    "power unit": 5000.0,
    "amplifier": 3200.0,
    "battery": 11500.0,
    "wheels": 6000.0,
    "star camera": 720.0,
    "ion analyser": 4100.0,
    "propellant tank": 99000.0,
    "thruster": 360.0,
    "dish": 3600.0,
    "array front": 3300.0,
    "array back": 3300.0,
    "blanket face +x": 56.0,
    "blanket face -x": 56.0,
    "blanket face +y": 55.0,
    "blanket face +z": 49.0,
    "blanket face -z": 48.0,
    "tank blanket face": 0.0,
}
LINKS = (
    ("frame", "radiator panel", 2.0),
    ("flight computer", "radiator panel", 3.0),
    ("power unit", "radiator panel", 3.0),
    ("amplifier", "radiator panel", 3.5),
    ("wheels", "frame", 3.0),
    ("battery", "radiator panel", 0.25),
    ("battery", "frame", 0.25),
    ("star camera", "frame", 0.35),
    ("ion analyser", "frame", 0.80),
    ("propellant tank", "frame", 0.15),
    ("thruster", "frame", 0.08),
    ("dish", "frame", 0.05),
    ("array back", "frame", 0.06),
    ("array front", "array back", 50.0),
)
RADIATION = (
    ("frame", "radiator panel", 0.25),
    ("battery", "frame", 0.03),
    ("tank blanket face", "frame", 0.60),
)
BLANKETS = (
    ("frame", "blanket face +x", 0.56, 0.012, 0.035),
    ("frame", "blanket face -x", 0.56, 0.012, 0.035),
    ("frame", "blanket face +y", 0.55, 0.012, 0.035),
    ("frame", "blanket face +z", 0.49, 0.012, 0.035),
    ("frame", "blanket face -z", 0.48, 0.012, 0.035),
    ("propellant tank", "tank blanket face", 0.80, 0.025, 0.060),
)
# surface, node, area, solar absorptance new and old, emittance, view to space, face
SURFACES = (
    ("radiator", "radiator panel", 0.22, 0.07, 0.15, 0.80, 0.95, "-y"),
    ("star aperture", "star camera", 0.010, 0.95, 0.95, 0.90, 1.0, "-y"),
    ("analyser aperture", "ion analyser", 0.012, 0.95, 0.95, 0.90, 1.0, "+y"),
    ("blanket +x", "blanket face +x", 0.56, 0.42, 0.55, 0.72, 0.80, "+x"),
    ("blanket -x", "blanket face -x", 0.56, 0.42, 0.55, 0.72, 0.80, "-x"),
    ("blanket +y", "blanket face +y", 0.55, 0.42, 0.55, 0.72, 1.0, "+y"),
    ("blanket +z", "blanket face +z", 0.49, 0.42, 0.55, 0.72, 0.60, "+z"),
    ("blanket -z", "blanket face -z", 0.48, 0.42, 0.55, 0.72, 1.0, "-z"),
    ("thruster", "thruster", 0.015, 0.50, 0.50, 0.30, 1.0, "-z"),
    ("dish", "dish", 0.60, 0.20, 0.35, 0.88, 1.0, "+z"),
    ("array front", "array front", 3.0, 0.74, 0.74, 0.81, 1.0, "+z"),
    ("array back", "array back", 3.0, 0.20, 0.35, 0.88, 1.0, "-z"),
)
LOADS = (
    ("flight computer", "flight computer", 15.0, ""),
    ("power unit", "power unit", 12.0, ""),
    ("power unit in sunlight", "power unit", 8.0, "sunlit"),
    ("battery", "battery", 1.5, ""),
    ("battery discharging", "battery", 6.0, "in shadow"),
    ("wheels", "wheels", 16.0, ""),
    ("star camera", "star camera", 3.0, ""),
    ("receiver", "amplifier", 8.0, ""),
    ("amplifier", "amplifier", 60.0, "Earth contact"),
    ("ion analyser", "ion analyser", 14.0, ""),
)
HEATERS = (
    ("battery", 20.0, 10.0, 12.0),
    ("propellant tank", 18.0, 15.0, 17.0),
    ("radiator panel", 30.0, -7.0, -5.0),
    ("ion analyser", 12.0, -8.0, -6.0),
)


def faces(position: Array, velocity: Array, sun: Array) -> dict[str, Array]:
    """Normals f8[k, 3]: +z to the Sun, +y as near to the orbit's normal as it can be."""
    normal = np.cross(position[0], velocity[0])
    y = normal - (normal @ sun) * sun
    y /= np.linalg.norm(y)
    x = np.cross(y, sun)
    fixed = {"+x": x, "-x": -x, "+y": y, "-y": -y, "+z": sun, "-z": -sun}
    return {name: np.broadcast_to(axis, position.shape) for name, axis in fixed.items()}


CRAFT = Craft(
    nodes=NODES,
    links=LINKS,
    radiation=RADIATION,
    blankets=BLANKETS,
    surfaces=[
        (Surface(name=name, node=node, area=area, absorptance=new, emittance=emittance, face=face,
                 view=view), old)
        for name, node, area, new, old, emittance, view, face in SURFACES
    ],
    faces=faces,
    loads=LOADS,
    heaters=HEATERS,
)  # fmt: skip

SCHEDULES: dict[str, History] = {
    "Earth contact": bare.steps((0.0, 0.0), (2000.0, 1.0), (5600.0, 0.0), end=PERIOD),
}


def orbit(periapsis: float, sun_distance: float) -> Orbit:
    """The ellipse; its lowest point so many degrees from noon, the Sun's distance in au."""
    return Orbit(
        gravity=GRAVITY, radius=RADIUS, lowest=LOWEST, highest=HIGHEST,
        beta=float(np.radians(10.0)), periapsis=float(np.radians(periapsis)),
        sun_distance=sun_distance,
    )  # fmt: skip


def light(sun_distance: float) -> Light:
    """388.1 W/m2 below the Sun at the mean distance, 30 at night."""
    return Light(
        sunlight=SUNLIGHT / sun_distance**2,
        albedo=0.25,
        infrared=30.0,
        day=388.1 * (MEAN / sun_distance) ** 2 - 30.0,
    )


COLD = Case(
    orbit=orbit(180.0, FAR), light=light(FAR), old=False, blankets="high", voltage=26.0,
    schedules=SCHEDULES, degrees=1.0, loads=0.8, absorptance_of={"array front": 0.64},
)  # fmt: skip
CASES = {
    "hot": Case(
        orbit=orbit(0.0, NEAR), light=light(NEAR), old=True, blankets="low", voltage=32.0,
        schedules=SCHEDULES, degrees=1.0,
    ),
    "cold": COLD,
    "long shadow": replace(COLD, orbit=orbit(0.0, FAR)),
    "safe": replace(COLD, heat_of={"amplifier": 0.0, "wheels": 8.0, "ion analyser": 0.0}),
}  # fmt: skip
