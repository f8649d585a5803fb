"""The microsatellite's numbers, as plain tuples: nothing here reads the model file.

SI units, thresholds in degC. Heats are those of the hot case, `CASES` has what each case changes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

# name, heat capacity [J/K]; zero for a massless node
NODES: tuple[tuple[str, float], ...] = (
    ("panel +x", 1900),
    ("panel -x", 1900),
    ("panel +y", 1900),
    ("panel -y", 2700),
    ("base plate", 2350),
    ("top plate", 1700),
    ("middle deck", 2700),
    ("separation ring", 1900),
    ("blanket face +x", 41),
    ("blanket face -x", 41),
    ("blanket face +y", 41),
    ("blanket face -y", 17),
    ("blanket face +z", 21),
    ("blanket face -z", 23),
    ("telescope tube", 2900),
    ("telescope mirror", 3200),
    ("baffle", 700),
    ("focal plane", 720),
    ("focal plane radiator", 220),
    ("camera electronics", 2150),
    ("payload memory", 1700),
    ("flight computer", 2150),
    ("power unit", 2800),
    ("battery", 4700),
    ("array drive", 1350),
    ("gyroscope", 1150),
    ("star camera 1", 540),
    ("star camera 2", 540),
    ("reaction wheel +x", 780),
    ("reaction wheel +y", 780),
    ("reaction wheel +z", 780),
    ("reaction wheel spare", 780),
    ("magnetic rods", 560),
    ("navigation receiver", 450),
    ("navigation antenna", 140),
    ("X-band transmitter", 1500),
    ("X-band antenna", 400),
    ("S-band transceiver", 1250),
    ("S-band antenna", 170),
    ("propellant tank", 6700),
    ("feed valve", 500),
    ("thruster", 250),
    ("wing +y front", 560),
    ("wing +y back", 450),
    ("wing -y front", 560),
    ("wing -y back", 450),
    ("telescope blanket face", 0),
    ("tank blanket face", 0),
)

SPACE = 2.7  # K

# from, to, conductance [W/K]
LINKS: tuple[tuple[str, str, float], ...] = (
    ("panel +x", "panel +y", 0.15),
    ("panel -x", "panel +y", 0.15),
    ("panel +x", "panel -y", 0.21),
    ("panel -x", "panel -y", 0.21),
    ("panel +x", "base plate", 0.11),
    ("panel -x", "base plate", 0.11),
    ("panel +y", "base plate", 0.11),
    ("panel -y", "base plate", 0.18),
    ("panel +x", "top plate", 0.096),
    ("panel -x", "top plate", 0.096),
    ("panel +y", "top plate", 0.096),
    ("panel -y", "top plate", 0.14),
    ("panel +x", "middle deck", 0.16),
    ("panel -x", "middle deck", 0.16),
    ("panel +y", "middle deck", 0.16),
    ("panel -y", "middle deck", 1.4),
    ("top plate", "separation ring", 1.6),
    ("flight computer", "panel -y", 1.4),
    ("power unit", "panel -y", 1.6),
    ("X-band transmitter", "panel -y", 1.5),
    ("S-band transceiver", "panel -y", 1.3),
    ("camera electronics", "panel -y", 1.4),
    ("payload memory", "panel -y", 1.3),
    ("battery", "middle deck", 0.25),
    ("battery", "panel -y", 0.15),
    ("gyroscope", "middle deck", 0.85),
    ("reaction wheel +x", "middle deck", 0.7),
    ("reaction wheel +y", "middle deck", 0.7),
    ("reaction wheel +z", "middle deck", 0.7),
    ("reaction wheel spare", "middle deck", 0.7),
    ("magnetic rods", "top plate", 0.45),
    ("navigation receiver", "top plate", 0.6),
    ("array drive", "top plate", 0.9),
    ("navigation antenna", "top plate", 0.06),
    ("X-band antenna", "base plate", 0.12),
    ("S-band antenna", "base plate", 0.06),
    ("thruster", "panel -x", 0.05),
    ("thruster", "feed valve", 0.01),
    ("feed valve", "middle deck", 0.05),
    ("feed valve", "propellant tank", 0.02),
    ("propellant tank", "middle deck", 0.06),
    ("telescope mirror", "base plate", 0.09),
    ("telescope tube", "telescope mirror", 0.6),
    ("telescope tube", "baffle", 0.08),
    ("baffle", "base plate", 0.1),
    ("focal plane", "telescope mirror", 0.04),
    ("focal plane", "focal plane radiator", 0.35),
    ("focal plane radiator", "panel -y", 0.03),
    ("star camera 1", "base plate", 0.25),
    ("star camera 2", "base plate", 0.25),
    ("wing +y front", "wing +y back", 6),
    ("wing -y front", "wing -y back", 6),
    ("wing +y back", "array drive", 0.02),
    ("wing -y back", "array drive", 0.02),
)

# from, to, area times exchange factor [m2]
RADIATION: tuple[tuple[str, str, float], ...] = (
    ("panel +x", "panel -x", 0.03),
    ("panel +y", "panel -y", 0.025),
    ("panel +x", "panel +y", 0.03),
    ("panel -x", "panel +y", 0.03),
    ("panel +x", "panel -y", 0.025),
    ("panel -x", "panel -y", 0.025),
    ("panel +x", "middle deck", 0.045),
    ("panel -x", "middle deck", 0.045),
    ("panel +y", "middle deck", 0.045),
    ("panel -y", "middle deck", 0.04),
    ("base plate", "middle deck", 0.04),
    ("top plate", "middle deck", 0.06),
    ("battery", "middle deck", 0.008),
    ("battery", "panel +y", 0.01),
    ("flight computer", "middle deck", 0.02),
    ("power unit", "middle deck", 0.025),
    ("camera electronics", "panel +x", 0.02),
    ("payload memory", "panel -x", 0.018),
    ("X-band transmitter", "base plate", 0.015),
    ("S-band transceiver", "top plate", 0.015),
    ("telescope blanket face", "middle deck", 0.12),
    ("telescope blanket face", "panel +x", 0.06),
    ("telescope blanket face", "panel -x", 0.06),
    ("telescope blanket face", "panel +y", 0.06),
    ("tank blanket face", "middle deck", 0.08),
    ("tank blanket face", "panel -x", 0.06),
    ("telescope tube", "telescope mirror", 0.03),
    ("telescope mirror", "baffle", 0.022),
    ("telescope tube", "baffle", 0.015),
    ("panel -y", "wing -y back", 0.004),
)

# covered node, outer face, area [m2], effective emittance low and high
BLANKETS: tuple[tuple[str, str, float, float, float], ...] = (
    ("panel +x", "blanket face +x", 0.4125, 0.012, 0.035),
    ("panel -x", "blanket face -x", 0.4125, 0.012, 0.035),
    ("panel +y", "blanket face +y", 0.4125, 0.012, 0.035),
    ("panel -y", "blanket face -y", 0.1675, 0.02, 0.05),
    ("base plate", "blanket face +z", 0.2125, 0.02, 0.05),
    ("top plate", "blanket face -z", 0.2325, 0.02, 0.05),
    ("telescope tube", "telescope blanket face", 0.62, 0.02, 0.05),
    ("propellant tank", "tank blanket face", 0.2, 0.03, 0.08),
)

# surface, node, area [m2], solar absorptance new and old, emittance, view to space, face
SURFACES: tuple[tuple[str, str, float, float, float, float, float, str], ...] = (
    ("blanket +x", "blanket face +x", 0.4125, 0.42, 0.55, 0.72, 1, "+x"),
    ("blanket -x", "blanket face -x", 0.4125, 0.42, 0.55, 0.72, 1, "-x"),
    ("blanket +y", "blanket face +y", 0.4125, 0.42, 0.55, 0.72, 0.96, "+y"),
    ("blanket -y", "blanket face -y", 0.1675, 0.42, 0.55, 0.72, 0.96, "-y"),
    ("blanket +z", "blanket face +z", 0.2125, 0.42, 0.55, 0.72, 1, "+z"),
    ("blanket -z", "blanket face -z", 0.2325, 0.42, 0.55, 0.72, 1, "-z"),
    ("radiator", "panel -y", 0.2, 0.08, 0.20, 0.78, 0.96, "-y"),
    ("focal plane radiator", "focal plane radiator", 0.03, 0.08, 0.20, 0.78, 0.96, "-y"),
    ("camera aperture", "baffle", 0.0491, 0.95, 0.95, 0.9, 1, "+z"),
    ("star camera 1 aperture", "star camera 1", 0.006, 0.95, 0.95, 0.9, 1, "-y"),
    ("star camera 2 aperture", "star camera 2", 0.006, 0.95, 0.95, 0.9, 1, "-y"),
    ("X-band antenna", "X-band antenna", 0.025, 0.20, 0.35, 0.88, 1, "+z"),
    ("S-band antenna", "S-band antenna", 0.01, 0.20, 0.35, 0.88, 1, "+z"),
    ("navigation antenna", "navigation antenna", 0.008, 0.20, 0.35, 0.88, 1, "-z"),
    ("separation ring", "separation ring", 0.06, 0.35, 0.50, 0.8, 1, "-z"),
    ("thruster", "thruster", 0.01, 0.50, 0.50, 0.3, 1, "-x"),
    ("wing +y front", "wing +y front", 0.33, 0.91, 0.91, 0.81, 1, "wing front"),
    ("wing +y back", "wing +y back", 0.33, 0.20, 0.35, 0.88, 1, "wing back"),
    ("wing -y front", "wing -y front", 0.33, 0.91, 0.91, 0.81, 1, "wing front"),
    ("wing -y back", "wing -y back", 0.33, 0.20, 0.35, 0.88, 1, "wing back"),
)

# unit, node, heat [W] by mode in the order of MODES
MODES = ("launch", "nominal", "imaging", "ground contact", "safe", "safe contact")
UNITS: tuple[tuple[str, str, tuple[float, ...]], ...] = (
    ("flight computer", "flight computer", (11, 11, 11, 11, 11, 11)),
    ("power unit", "power unit", (7.5, 8, 8, 8, 7.5, 7.5)),
    ("power unit in sunlight", "power unit", (0, 5, 5, 5, 5, 5)),
    ("battery electronics", "battery", (0.5, 0.5, 0.5, 0.5, 0.5, 0.5)),
    ("array drive", "array drive", (0, 0.8, 0.8, 0.8, 0, 0)),
    ("gyroscope", "gyroscope", (0, 6, 6, 6, 6, 6)),
    ("star camera 1", "star camera 1", (0, 2.2, 2.2, 2.2, 0, 0)),
    ("star camera 2", "star camera 2", (0, 2.2, 2.2, 2.2, 0, 0)),
    ("reaction wheel +x", "reaction wheel +x", (0, 4.5, 4.5, 4.5, 0, 0)),
    ("reaction wheel +y", "reaction wheel +y", (0, 4.5, 4.5, 4.5, 0, 0)),
    ("reaction wheel +z", "reaction wheel +z", (0, 4.5, 4.5, 4.5, 0, 0)),
    ("magnetic rods", "magnetic rods", (0, 1, 1, 1, 1, 1)),
    ("navigation receiver", "navigation receiver", (0, 2.2, 2.2, 2.2, 2.2, 2.2)),
    ("S-band transceiver", "S-band transceiver", (4, 4, 4, 13, 4, 13)),
    ("X-band transmitter", "X-band transmitter", (0, 0, 0, 32, 0, 0)),
    ("payload memory", "payload memory", (0, 4.5, 12.5, 10.5, 0, 0)),
    ("camera electronics", "camera electronics", (0, 0, 36, 0, 0, 0)),
    ("focal plane", "focal plane", (0, 0, 6, 0, 0, 0)),
)
SENT = {"ground contact": 10.0, "safe contact": 2.0}  # W that leave as radio waves
LIT = "power unit in sunlight"  # the unit whose heat goes with the sunlight

# heater, heated and sensed node, power [W] at 28 V, on at or below, off at or above [degC], and the
# modes in which it may heat; none for all
WORK, SURVIVAL = ("nominal", "imaging", "ground contact"), ("launch", "safe", "safe contact")
HEATERS: tuple[tuple[str, str, float, float, float, tuple[str, ...]], ...] = (
    ("battery", "battery", 18, 12, 14, ()),
    ("telescope", "telescope tube", 14, 11, 13, WORK),
    ("telescope survival", "telescope tube", 14, -20, -17, SURVIVAL),
    ("propellant tank", "propellant tank", 6, 14, 15.5, ()),
    ("feed valve", "feed valve", 2, 12, 15, ()),
)

# Solar cells: surfaces, share of the area, efficiency new and old at 28 degC and its slope [1/K].
CELLS, PACKING, EFFICIENCY, SLOPE = ("wing +y front", "wing -y front"), 0.88, (0.29, 0.25), -0.0006
CELLS_AT = 28.0 + 273.15  # K
CAPACITY = 150.0 * 3600.0  # J
CHARGED, DISCHARGED = 0.95, 0.97  # efficiencies of charging and discharging

# mode, attitude, and when it begins: degrees along the orbit and seconds after it, or in words
Step = tuple[str, str, tuple[float, float] | str]
TIMELINES: dict[str, tuple[Step, ...]] = {
    "orbit": (
        ("nominal", "nadir", (0, 0)),
        ("imaging", "nadir", (0, 300)),
        ("nominal", "nadir", (0, 900)),
        ("ground contact", "nadir", (0, 1100)),
        ("nominal", "nadir", (0, 1640)),
    ),
    "safe orbit": (
        ("safe", "nadir", (0, 0)),
        ("safe contact", "nadir", (0, 1100)),
        ("safe", "nadir", (0, 1640)),
    ),
    "anomaly": (("nominal", "nadir", (0, 0)), ("safe", "nadir", "shadow entry")),
    "launch": (
        ("launch", "nadir", (0, 0)),
        ("safe", "nadir", (0, 1800)),
        ("nominal", "nadir", (0, 45000)),
    ),
    "day": (
        ("nominal", "sun", (0, 0)),
        ("imaging", "nadir", (745, 0)),
        ("ground contact", "nadir", (745, 600)),
        ("nominal", "sun", (745, 1140)),
        ("imaging", "nadir", (1105, 0)),
        ("ground contact", "nadir", (1105, 480)),
        ("nominal", "sun", (1105, 1020)),
        ("imaging", "nadir", (3985, 0)),
        ("ground contact", "nadir", (3985, 600)),
        ("nominal", "sun", (3985, 1140)),
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A case: Sun distance in au, planet infrared in W/m2, `units` a factor on their heat.

    `span` [s] is that of a history; 0 for an orbit that repeats.
    """

    old: bool  # whether finishes are at the end of their life
    sun_distance: float
    albedo: float
    infrared: float
    blankets: str
    voltage: float
    units: float = 1.0
    timeline: str
    span: float = 0.0


# The albedo's correction for the zenith angle at 20.5 deg: a twentieth from 0.05 towards 0.06.
CORRECTION = 0.05 + 0.05 * 0.01
ECCENTRICITY = 0.01671022  # of the Earth's orbit
HOT = Case(
    old=True, sun_distance=1.0 - ECCENTRICITY, albedo=0.26 + CORRECTION, infrared=244.0,
    blankets="low", voltage=33.0, timeline="orbit",
)  # fmt: skip
COLD = Case(
    old=False, sun_distance=1.0 + ECCENTRICITY, albedo=0.19 + CORRECTION, infrared=218.0,
    blankets="high", voltage=24.5, units=0.8, timeline="orbit",
)  # fmt: skip
CASES = {
    "hot": HOT,
    "cold": COLD,
    "safe": replace(COLD, timeline="safe orbit"),
    "anomaly": replace(COLD, timeline="anomaly", span=24 * 3600.0),
    "day": replace(HOT, timeline="day", span=24 * 3600.0),
    "launch": replace(COLD, timeline="launch", span=24 * 3600.0),
}
