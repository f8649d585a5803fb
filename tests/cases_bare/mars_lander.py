"""The Mars lander as bare arrays: an independent answer, from numbers that stand here.

No import of thermnet and no reading of its files. Each coupling is written out by the law that it
stands for: shape factors and integrals of conductivity, cells of honeycomb, radiosities, radiation
of a fin. Kelvin, watts, seconds. What solar cells give is left out, as the array is joined to the
rest by 4 mW/K only; the losses of the battery are means.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache

import numpy as np
from scipy.integrate import quad, solve_ivp, trapezoid
from scipy.interpolate import PchipInterpolator
from scipy.optimize import root

from tests.cases_bare.bare import SIGMA, ZERO_CELSIUS, Array

SPACE, CARRIER, GROUND, AIR = 2.7, 278.15, 218.15, 213.15

NODES = (
    "electronics", "radio", "battery", "store", "base", "belly", "lid", "radiator", "plate", "tank",
    "blanket", "liquid 0", "liquid 1", "detector", "camera", "shade", "array", "ring 0", "ring 1",
    "ring 2", "ring 3", "foot", "sphere", "board", "strap 0", "strap 1", "vapour", "sheet",
)  # fmt: skip
AT = {name: k for k, name in enumerate(NODES)}

# log10 k over log10 T, cryogenic fits of NIST: second-hand, in transcriptions that agree
TITANIUM = (-5107.8774, 19240.422, -30789.064, 27134.756, -14226.379, 4438.2154, -763.07767,
            55.796592)  # fmt: skip
STEEL = (-1.4087, 1.3982, 0.2543, -0.6260, 0.2334, 0.4256, -0.4658, 0.1650, -0.0199)
# between the temperatures of Incropera and DeWitt, table A.1: read
KELVIN = (100.0, 200.0, 300.0, 400.0, 600.0)
COPPER = (482.0, 413.0, 401.0, 393.0, 379.0)
PLATE = (65.0, 163.0, 177.0, 186.0, 186.0)


def between(values: tuple[float, ...]) -> Callable[[float], float]:
    """A property between the temperatures of the table: monotone cubics of the logarithms."""
    smooth = PchipInterpolator(np.log(KELVIN), np.log(values))
    at = np.linspace(KELVIN[0], KELVIN[-1], 5001)
    found = np.exp(smooth(np.log(at)))
    return lambda T: float(np.interp(T, at, found))


def integral(k: Callable[[float], float]) -> Callable[[float], float]:
    """Integral of a conductivity from 20 K on, by straight lines between many points."""
    at = np.linspace(20.0, 300.0, 2801)
    k_at = np.array([k(T) for T in at])
    total = np.append(0.0, np.cumsum((k_at[1:] + k_at[:-1]) / 2.0 * np.diff(at)))

    def found(T: float) -> float:
        beyond = max(T - 300.0, 0.0) * k_at[-1]
        return float(np.interp(T, at, total) + beyond)

    return found


def fit(coefficients: tuple[float, ...]) -> Callable[[float], float]:
    return lambda T: float(10.0 ** np.polynomial.polynomial.polyval(np.log10(T), coefficients))


OF_TITANIUM, OF_STEEL = integral(fit(TITANIUM)), integral(fit(STEEL))
OF_COPPER = integral(between(COPPER))


def square_views(a: float, b: float, c: float) -> float:
    """View factor between rectangles a x b at a distance c, by quadrature over one of them."""

    def seen(x: float, y: float) -> float:
        total = 0.0
        for u, v in ((x, y), (x, b - y), (a - x, y), (a - x, b - y)):
            p, q = u / c, v / c
            total += p / np.hypot(1, p) * np.arctan(q / np.hypot(1, p))
            total += q / np.hypot(1, q) * np.arctan(p / np.hypot(1, q))
        return float(total / (2.0 * np.pi))

    def inner(y: float) -> float:
        return float(quad(lambda x: seen(x, y), 0.0, a)[0])

    return float(quad(inner, 0.0, b)[0] / (a * b))


def gathered(area: Array, factor: Array, emittance: Array) -> Array:
    """What a face takes of what another emits, m2, by the radiosities of all (Gebhart's way)."""
    reflected = np.eye(len(area)) - factor * (1.0 - emittance)[None, :]
    absorbed = np.linalg.solve(reflected, factor * emittance[None, :])
    return (emittance * area)[:, None] * absorbed


def bay() -> Array:
    """Exchange areas of base, lid and gap with walls that give back what they receive."""
    area = np.array([0.5, 0.5, 1.2, 0.02])
    direct = np.zeros((4, 4))
    direct[0, 1] = 0.5 * square_views(1.0, 0.5, 0.4)
    direct[3, 0] = 0.02 * 0.4
    direct = direct + direct.T
    for face in (0, 1, 3):
        direct[face, 2] = direct[2, face] = area[face] - direct[face].sum()
    direct[2, 2] = area[2] - direct[2].sum()
    # A wall that is insulated is one that emits next to nothing and reflects the rest.
    return gathered(area, direct / area[:, None], np.array([0.9, 0.9, 1e-12, 1.0]))


VIEWS = (
    (0, 0, 0.3107), (0, 1, 0.3847), (0, 2, 0.1701), (0, 3, 0.0715), (0, 4, 0.0629), (1, 0,
    0.4784), (1, 1, 0.1224), (1, 2, 0.2134), (1, 3, 0.1032), (1, 4, 0.0815), (2, 0, 0.2133), (2,
    1, 0.2126), (2, 2, 0.2204), (2, 3, 0.2143), (2, 4, 0.1394), (3, 0, 0.1199), (3, 1, 0.1371),
    (3, 2, 0.2863), (3, 3, 0.2287), (3, 4, 0.2242), (4, 0, 0.1667), (4, 1, 0.1741), (4, 2,
    0.2958), (4, 3, 0.3609),
)  # fmt: skip
RING_AREA = np.array([0.020, 0.016, 0.016, 0.012, 0.0075])


def baffle() -> Array:
    """Exchange areas of four rings and the mouth, whose views are scaled until they close."""
    there = np.zeros((5, 5))
    for i, j, value in VIEWS:
        there[i, j] = RING_AREA[i] * value
    direct = (there + there.T) / 2.0

    def off(d: Array) -> Array:
        return np.asarray(d * (direct @ d) - RING_AREA)

    scale = root(off, np.ones(5), tol=1e-14).x
    direct = direct * scale[:, None] * scale[None, :]
    factor = direct / RING_AREA[:, None]
    return gathered(RING_AREA, factor, np.array([0.92, 0.92, 0.92, 0.92, 1.0]))


def gap(first: float, second: float) -> Array:
    """Exchange areas of two squares of 0.3 m2, 40 mm apart, and of all that their edges see."""
    side = np.sqrt(0.30)
    facing = square_views(side, side, 0.04)
    area = np.array([0.3, 0.3, 1e6])
    factor = np.array([[0, facing, 1 - facing], [facing, 0, 1 - facing], [0, 0, 1.0]])
    factor[2, :2] = 0.3 * (1 - facing) / 1e6
    factor[2, 2] = 1.0 - factor[2, :2].sum()
    return gathered(area, factor, np.array([first, second, 1.0]))


BAY, BAFFLE = bay(), baffle()
SHIELD = {("shade", "sheet"): gap(0.05, 0.05), ("sheet", "blanket"): gap(0.05, 0.72)}


@cache
def fin_share(root_temperature: float) -> float:
    """tanh(mL)/(mL) of a fin of 0.12 m and 1.5 mm, whose root is at a temperature."""
    k = fit((0.07918, 1.0957, -0.07277, 0.08084, 0.02803, -0.09464, 0.04179, -0.00571))
    m = np.sqrt(4.0 * 0.88 * SIGMA * root_temperature**3 / (k(root_temperature) * 1.5e-3))
    return float(np.tanh(m * 0.12) / (m * 0.12))


@cache
def panel_through() -> float:
    core = 8.0 / 3.0 * 0.1e-3 / 6e-3 * 0.30
    k_face = between(PLATE)(253.15)
    return 0.55 / (40e-3 / core + 2 * 0.4e-3 / k_face + 1.0 / 4000.0)


@cache
def panel_along() -> float:
    core = 1.5 * 0.025e-3 / 6e-3 * 138.5
    return (2 * 0.5e-3 * 1.3 + 12e-3 * core) * 0.5 / 0.45


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """What a case changes: joints' conductances, heaters' volts, heat of the units, what is lost.

    `heat` are all loads and all that is absorbed, by node, at an instant; means at `None`.
    """

    volts: float
    joints: tuple[float, float, float, float]  # electronics, radio, store, battery [W/K]
    bound: float  # of the blanket
    fin_at: float
    pump: float  # W/K
    heat: Callable[[float | None], dict[str, float]]
    battery_loss: Callable[[float], float]
    landed: bool = False
    up: Callable[[float], float] = field(default=lambda _: 0.0)


def clipped(T: float, low: float, high: float) -> float:
    return float(np.clip((T - low) / (high - low), 0.0, 1.0))


def heaters(T: Array, case: Case) -> dict[str, float]:
    """Powers in proportion between two temperatures [W]."""
    c, tank = ZERO_CELSIUS, 0.0 if case.landed else case.volts**2 / 60.0
    return {
        "battery": case.volts**2 / 40.0 * (1.0 - clipped(T[AT["battery"]], 2 + c, 8 + c)),
        "tank": tank * (1.0 - clipped(T[AT["tank"]], 10 + c, 16 + c)),
        "electronics": 40.0 * (1.0 - clipped(T[AT["electronics"]], c - 22, c - 15)),
    }


def in_gas(hot: float, cold: float) -> float:
    """Heat [W] through carbon dioxide of 700 Pa in 19 gaps of together 9 mm, over 0.75 m2.

    In each gap free molecules, between faces that accommodate 0.9, and a continuum in series.
    """
    gap = 18 / 2000.0 / 19
    joint = 0.9 * 0.9 / (0.9 + 0.9 - 0.9 * 0.9)
    free = joint * (2.3 / 0.3) * np.sqrt(8.314462618 / (8 * np.pi * 0.0440098 * 293.15)) * 700.0
    T = np.linspace(cold, hot, 41)
    warm = np.maximum(T, 195.0)
    dense = 0.0146 * (warm / 273.0) ** 1.5 * (273.0 + 1800.0) / (warm + 1800.0) / gap
    h = dense * free / (dense + free)
    return float(0.75 / 19 * trapezoid(h, T))


@dataclass(frozen=True, slots=True)
class Gains:
    """Heat [W] that each node gains, `q`, at temperatures `T` in a case; added to by each law."""

    T: Array
    case: Case
    q: Array

    def of(self, name: str) -> float:
        if name in AT:
            return float(self.T[AT[name]])
        return {"carrier": CARRIER, "space": SPACE}[name]

    def carry(self, a: str, b: str, watts: float) -> None:
        for name, sign in ((a, -1.0), (b, 1.0)):
            if name in AT:
                self.q[AT[name]] += sign * watts

    def conduct(self, a: str, b: str, conductance: float) -> None:
        self.carry(a, b, conductance * (self.of(a) - self.of(b)))

    def radiate(self, a: str, b: str, area: float) -> None:
        self.carry(a, b, SIGMA * area * (self.of(a) ** 4 - self.of(b) ** 4))

    def through(self, a: str, b: str, shape: float, total: Callable[[float], float]) -> None:
        self.carry(a, b, shape * (total(self.of(a)) - total(self.of(b))))


def by_conduction(g: Gains) -> None:
    """Links, panels, joints, switch, pipe, struts, strap, and the loop of the pump."""
    c, joints = ZERO_CELSIUS, g.case.joints
    for a, b, conductance in (
        ("base", "radiator", 0.05), ("plate", "base", 0.05), ("camera", "lid", 0.12),
        ("battery", "electronics", 0.02), ("tank", "base", 0.03), ("array", "lid", 0.004),
        ("base", "foot", 0.5), ("camera", "ring 0", 0.05), ("ring 0", "ring 1", 0.02),
        ("ring 1", "ring 2", 0.02), ("ring 2", "ring 3", 0.02), ("electronics", "liquid 0", 6.0),
        ("board", "foot", 0.08), ("board", "sphere", 0.004), ("base", "belly", panel_through()),
        ("base", "lid", panel_along()), ("electronics", "base", joints[0]),
        ("radio", "store", joints[1]), ("store", "base", joints[2]), ("battery", "base", joints[3]),
        ("camera", "strap 0", 3.2), ("strap 1", "lid", 3.2),
    ):  # fmt: skip
        g.conduct(a, b, conductance)
    film = 0.7 + 0.3 * clipped(g.of("plate"), c - 40, c)
    g.conduct("plate", "liquid 1", 5.0 * film)
    g.conduct("battery", "base", 0.9 * clipped(g.of("battery"), c + 16, c + 20))
    g.conduct("base", "vapour", 9.0)
    g.conduct("radiator", "vapour", 12.0 * (0.001 + 0.999 * clipped(g.of("base"), c + 4, c + 12)))
    if not g.case.landed:
        g.through("base", "carrier", 6 * 45e-6 / 0.12, OF_TITANIUM)
    g.through("tank", "base", 2 * np.pi * 1.2e-3 / np.log(150 / 90), OF_TITANIUM)
    g.through("detector", "camera", 9e-6 / 35e-3, OF_STEEL)
    g.through("strap 0", "strap 1", 0.8 * 12 * 0.1e-3 * 20e-3 / 80e-3, OF_COPPER)
    g.through("foot", "sphere", 3 * 6e-6 / 20e-3, OF_TITANIUM)
    for a, b in (("liquid 0", "liquid 1"), ("liquid 1", "liquid 0")):
        g.q[AT[b]] += g.case.pump * (g.of(a) - g.of(b))


def by_radiation_inside(g: Gains) -> None:
    """Couplings, both enclosures, the blanket of the tank and the shield before it."""
    g.radiate("battery", "base", 0.02)
    g.radiate("blanket", "belly", 0.05)
    g.radiate("board", "sphere", 0.004)
    for a, b, i, j in (("base", "lid", 0, 1), ("base", "belly", 0, 3), ("lid", "belly", 1, 3)):
        g.radiate(a, b, BAY[i, j])
    rings = ("ring 0", "ring 1", "ring 2", "ring 3", "space")
    for i, j in itertools.combinations(range(5), 2):
        g.radiate(rings[i], rings[j], BAFFLE[i, j])
    for (a, b), share in SHIELD.items():
        g.radiate(a, b, share[0, 1])
        g.radiate(a, "space", share[0, 2])
        g.radiate(b, "space", share[1, 2])
    # 18 layers, 20 to a centimetre, of 0.035, and a seam (Keller, Cunnington and Glassford, NASA
    # CR-134477, 1974, equation 4-14: second-hand).
    hot, cold = g.of("tank"), g.of("blanket")
    solid = 8.95e-8 * 20.0**2.56 * (hot**2 - cold**2) / (2 * 19)
    glow = 5.39e-10 * 0.035 * (hot**4.67 - cold**4.67) / 18
    seam = 2.4 * 2.5e-3 * (hot - cold)
    g.carry("tank", "blanket", g.case.bound * (0.75 * (solid + glow) + seam))


def to_the_outside(g: Gains, up: float) -> None:
    """Surfaces, radiator and louver; on the ground also soil and air. `up` is the Sun's height."""
    c, fin = ZERO_CELSIUS, fin_share(g.case.fin_at)
    for a, area, below in (
        ("belly", 0.55 * 0.72, 1.0), ("lid", 0.55 * 0.88 * 0.7, 0.0), ("blanket", 0.45 * 0.72, 0.5),
        ("shade", 0.30 * 0.88, 0.0), ("ring 3", 0.006 * 0.90, 0.5),
        ("array", 1.6 * 0.81, (1 - up) / 2), ("array", 1.6 * 0.88, (1 + up) / 2),
        ("radiator", 0.24 * 0.88 * fin, 0.5),
    ):  # fmt: skip
        ground = below if g.case.landed else 0.0
        g.radiate(a, "space", area * (1.0 - ground))
        g.q[AT[a]] -= SIGMA * area * ground * 0.95 * (g.of(a) ** 4 - GROUND**4)
    g.radiate("plate", "space", 0.12 * 0.9 * (0.12 + 0.60 * clipped(g.of("plate"), c, c + 14)))
    if g.case.landed:
        g.carry("tank", "blanket", in_gas(g.of("tank"), g.of("blanket")))
        g.q[AT["belly"]] -= 0.06 * (g.of("belly") - GROUND)
        g.q[AT["shade"]] -= 1.0 * 0.30 * (g.of("shade") - AIR)
        g.q[AT["radiator"]] -= 0.8 * 0.24 * fin * (g.of("radiator") - AIR)


def gained(T: Array, case: Case, time: float | None = None) -> Array:
    """Heat [W] that each node gains at an instant, or from what is constant in the mean."""
    g, c = Gains(T, case, np.zeros(len(NODES))), ZERO_CELSIUS
    by_conduction(g)
    by_radiation_inside(g)
    to_the_outside(g, 0.0 if time is None else case.up(time))
    powers = heaters(T, case)
    clock = 1.2 * (0.9 + 0.2 * clipped(g.of("electronics"), c - 20, c + 40))
    for heat in (
        powers, {"electronics": clock}, {"battery": case.battery_loss(sum(powers.values()))},
        case.heat(time),
    ):  # fmt: skip
        for name, watts in heat.items():
            g.q[AT[name]] += watts
    return g.q


def steady(case: Case) -> Array:
    """Temperatures [K] of a steady case: a long time first, then a root of the balance."""
    start = np.full(len(NODES), 250.0)
    slow = solve_ivp(
        lambda _, T: gained(T, case) / 100.0, (0.0, 3e6), start, method="LSODA", rtol=1e-6
    )
    found = root(gained, slow.y[:, -1], args=(case,), tol=1e-12)
    if not found.success or np.abs(gained(found.x, case)).max() > 1e-6:
        raise ValueError(f"no balance: {found.message}")
    return np.asarray(found.x)
