"""The deep-space probe as bare arrays: an independent answer, from numbers that stand here.

No import of thermnet and no reading of model.yaml. Thresholds in degC, otherwise SI units.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from tests.cases_bare import bare
from tests.cases_bare.bare import Array, Arrays, History, Run

HOUR = 3600.0
SPACE = 2.7  # K

# name, heat capacity [J/K] (zero for a massless node), temperature at the start of a history [degC]
NODES: tuple[tuple[str, float, float], ...] = (
    ("bay deck", 22000, -6),
    ("bay walls", 16000, -10),
    ("bay radiator", 2700, -11),
    ("bay blanket face", 420, -158),
    ("electronics", 10500, 0),
    ("transmitter", 3600, -6),
    ("battery", 8600, 9),
    ("propellant tank", 194500, 19),
    ("propellant line", 420, 14),
    ("valve block", 650, 14),
    ("thrust chamber", 300, -43),
    ("antenna dish front", 4000, -159),
    ("antenna dish back", 4000, -159),
    ("instrument", 7200, -12),
    ("instrument blanket face", 35, -144),
    ("star camera", 600, 3),
    ("wing +y front", 14000, -132),
    ("wing +y back", 14000, -134),
    ("wing -y front", 14000, -132),
    ("wing -y back", 14000, -134),
    ("tank blanket face", 0, -100),
    ("line blanket face", 0, -100),
)

# from, to, conductance [W/K]
LINKS: tuple[tuple[str, str, float], ...] = (
    ("bay deck", "bay walls", 4),
    ("bay deck", "bay radiator", 9),
    ("electronics", "bay deck", 5),
    ("transmitter", "bay deck", 4),
    ("battery", "bay deck", 0.5),
    ("propellant tank", "bay deck", 0.12),
    ("propellant tank", "propellant line", 0.01),
    ("propellant line", "valve block", 0.02),
    ("propellant line", "bay walls", 0.02),
    ("valve block", "bay walls", 0.08),
    ("valve block", "thrust chamber", 0.025),
    ("instrument", "bay walls", 0.06),
    ("star camera", "bay walls", 0.18),
    ("antenna dish back", "bay walls", 0.04),
    ("antenna dish front", "antenna dish back", 40),
    ("wing +y back", "bay walls", 0.03),
    ("wing -y back", "bay walls", 0.03),
    ("wing +y front", "wing +y back", 180),
    ("wing -y front", "wing -y back", 180),
)

# from, to, area times exchange factor [m2]
RADIATION: tuple[tuple[str, str, float], ...] = (
    ("electronics", "bay walls", 0.2),
    ("transmitter", "bay walls", 0.06),
    ("battery", "bay walls", 0.05),
    ("bay deck", "bay walls", 0.6),
    ("antenna dish back", "bay blanket face", 0.5),
)

# covered node, outer face, area [m2], effective emittance low and high
BLANKETS: tuple[tuple[str, str, float, float, float], ...] = (
    ("bay walls", "bay blanket face", 4.2, 0.01, 0.025),
    ("propellant line", "line blanket face", 0.06, 0.06, 0.15),
    ("instrument", "instrument blanket face", 0.35, 0.02, 0.045),
)

# The tank's blanket: 15 layers, 15 to a centimetre, and 45 over 5 % of what is not open.
# The formula is 8.95e-8 n**2.56 (T**2 - T'**2) / (2 (N + 1)) + 5.39e-10 e (T**4.67 - T'**4.67) / N
# [W/m2] with n layers to a centimetre and N layers of e = 0.031 (Keller, Cunnington and Glassford,
# NASA CR-134477, 1974, equation 4-14: second-hand).
TANK = ("propellant tank", "tank blanket face")
TANK_AREA, TANK_OPEN = 0.9, 20e-4  # m2
OPEN_EMITTANCE = 0.5
LAYERS, CROWDS = 15, ((0.95, 15.0), (0.05, 45.0))  # shares, layers to a centimetre
# Seam 4.8 m, 24 pins, 480 stitches and 8 cables [W/K].
THROUGH = 4.8 * 3e-3 + 24 * 0.25 * 7e-6 / 10e-3 + 480 * 0.2 * 1e-7 / 4e-3 + 8 * 4e-4
TANK_BOUNDS = {"low": 0.6, "high": 1.6}

# node, area [m2], emittance, view to space, sunlight absorbed at 3 astronomical units [W]
SURFACES: tuple[tuple[str, float, float, float, float], ...] = (
    ("bay blanket face", 4.2, 0.72, 0.9, 0),
    ("bay radiator", 0.2, 0.85, 1, 0),
    ("tank blanket face", 0.9, 0.72, 1, 0),
    ("line blanket face", 0.06, 0.72, 1, 0),
    ("instrument blanket face", 0.35, 0.72, 1, 0),
    ("instrument", 0.02, 0.85, 1, 0),
    ("star camera", 0.006, 0.9, 1, 0),
    ("thrust chamber", 0.02, 0.5, 0.9, 0),
    ("antenna dish front", 2, 0.87, 1, 121),
    ("antenna dish back", 2, 0.8, 0.7, 0),
    ("wing +y front", 12, 0.81, 1, 1198),
    ("wing +y back", 12, 0.85, 1, 0),
    ("wing -y front", 12, 0.81, 1, 1198),
    ("wing -y back", 12, 0.85, 1, 0),
)

# heater, heated and sensed node, power [W] at 28 V, on at or below, off at or above [degC]
HEATERS: tuple[tuple[str, str, float, float, float], ...] = (
    ("propellant tank", "propellant tank", 22, 18, 21),
    ("propellant line", "propellant line", 5, 11, 20),
    ("valve block", "valve block", 6, 11, 19),
    ("instrument", "instrument", 12, -14, -10),
    ("battery", "battery", 20, 8, 11),
    ("bay", "bay deck", 60, -8, -4),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One case; `histories` and `enabled` begin at 0 s and belong to the two that are transient."""

    blankets: str
    voltage: float
    sunlight: float  # factor
    sunlight_on_dish: float
    loads: dict[str, float]  # node: W
    burn: float = 0.0  # W on the thrust chamber
    tank_heater: str = ""  # history
    sun: str = ""  # history
    histories: dict[str, History] = field(default_factory=dict)
    hours: float = 0.0


QUIET = {"electronics": 38.0, "battery": 0.8, "instrument": 5.0, "star camera": 4.0}
CASES = {
    "hot": Case(
        blankets="low", voltage=28.5, sunlight=1.0, sunlight_on_dish=1.0,
        loads={
            "electronics": 46.0, "transmitter": 52.0, "battery": 1.5, "instrument": 9.0,
            "star camera": 5.0,
        },
    ),
    "cold": Case(
        blankets="high", voltage=27.0, sunlight=0.36, sunlight_on_dish=0.18, loads=QUIET
    ),
    "heater lost": Case(
        blankets="high", voltage=27.0, sunlight=0.36, sunlight_on_dish=0.18, loads=QUIET,
        tank_heater="tank heater", hours=60.0,
        histories={
            "tank heater": bare.steps(
                (0.0, 1.0), (6 * HOUR, 0.0), (30 * HOUR, 1.0), end=60 * HOUR
            ),
        },
    ),
    "manoeuvre": Case(
        blankets="high", voltage=27.0, sunlight=0.36, sunlight_on_dish=0.18, loads=QUIET,
        burn=150.0, sun="sun", hours=24.0,
        histories={
            "sun": bare.steps((0.0, 1.0), (2 * HOUR, 0.0), (5 * HOUR, 1.0), end=24 * HOUR),
            "burn": bare.steps(
                (0.0, 0.0), (3 * HOUR, 1.0), (205 * 60.0, 0.0), end=24 * HOUR
            ),
        },
    ),
}  # fmt: skip
NAMES = tuple(name for name, *_ in NODES)
INDEX = {name: position for position, name in enumerate(NAMES)}


def heats_of(case: Case) -> list[tuple[int, float, str]]:
    """Node, heat [W] and history of everything that is absorbed or dissipated."""
    heats = [(INDEX[node], watts, "") for node, watts in case.loads.items()]
    for node, _, _, _, sunlight in SURFACES:
        factor = case.sunlight_on_dish if node == "antenna dish front" else case.sunlight
        heats.append((INDEX[node], sunlight * factor, case.sun))
    if case.burn > 0.0:
        heats.append((INDEX["thrust chamber"], case.burn, "burn"))
    return heats


def tank_blanket(
    bound: float, conduction: Array, radiation: Array, space: Array
) -> dict[float, Array]:
    """Adds the tank's blanket to the arrays; gives its matrices for T**2 and T**4.67."""
    covered, face = (INDEX[node] for node in TANK)
    bare.connect(conduction, covered, face, bound * THROUGH)
    bare_patch = bare.SIGMA * TANK_OPEN * OPEN_EMITTANCE * bound
    radiation[covered, covered] -= bare_patch
    space[covered] += bare_patch * SPACE**4
    area = (TANK_AREA - TANK_OPEN) * bound
    crowded = sum(share * density**2.56 for share, density in CROWDS)
    powers = {2.0: np.zeros_like(radiation), 4.67: np.zeros_like(radiation)}
    solid = 8.95e-8 * crowded / (2 * (LAYERS + 1))
    bare.connect(powers[2.0], covered, face, area * solid)
    bare.connect(powers[4.67], covered, face, area * 5.39e-10 * 0.031 / LAYERS)
    return powers


def arrays(name: str) -> Arrays:
    """The arrays of a case."""
    case = CASES[name]
    n = len(NAMES)
    conduction, radiation, space = np.zeros((n, n)), np.zeros((n, n)), np.zeros(n)
    for a, b, conductance in LINKS:
        bare.connect(conduction, INDEX[a], INDEX[b], conductance)
    for a, b, area in RADIATION:
        bare.connect(radiation, INDEX[a], INDEX[b], bare.SIGMA * area)
    for a, b, area, low, high in BLANKETS:
        emittance = {"low": low, "high": high}[case.blankets]
        bare.connect(radiation, INDEX[a], INDEX[b], bare.SIGMA * area * emittance)
    powers = tank_blanket(TANK_BOUNDS[case.blankets], conduction, radiation, space)
    for a, area, emittance, view, _ in SURFACES:
        radiation[INDEX[a], INDEX[a]] -= bare.SIGMA * area * emittance * view
        space[INDEX[a]] += bare.SIGMA * area * emittance * view * SPACE**4
    return Arrays(
        names=NAMES,
        capacity=np.array([value for _, value, _ in NODES], dtype=float),
        conduction=conduction,
        radiation=radiation,
        space=space,
        powers=powers,
        heats=heats_of(case),
        histories=case.histories,
        heated=[INDEX[of] for _, of, *_ in HEATERS],
        enabled=[case.tank_heater if of == "propellant tank" else "" for _, of, *_ in HEATERS],
        power=np.array([p * (case.voltage / 28.0) ** 2 for _, _, p, _, _ in HEATERS]),
        on=np.array([on for *_, on, _ in HEATERS]) + bare.ZERO_CELSIUS,
        off=np.array([off for *_, off in HEATERS]) + bare.ZERO_CELSIUS,
    )


def start() -> Array:
    """The temperatures [K] at which the transient cases begin."""
    return np.array([initial for *_, initial in NODES]) + bare.ZERO_CELSIUS


def steady(case: str) -> tuple[Array, Array]:
    """Temperatures [K] and heater duties of a steady case."""
    return bare.steady(arrays(case), guess=start())


def transient(case: str, *, rtol: float = 1e-9) -> Run:
    """The whole history of a transient case."""
    times = {float(t) for time, _ in CASES[case].histories.values() for t in time}
    return bare.run(arrays(case), temperature=start(), instants=sorted(times), rtol=rtol)
