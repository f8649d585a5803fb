"""Invented components for the figure tests: every verdict, long names, heaters, far-off items."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from thermnet.figures.margin_plot import Foot
from thermnet.limits import Quantity
from thermnet.margins import CaseRange, Margin, Side, Summary, Verdict

ZERO = 273.15
HOT, COLD = "hot, end of life", "cold, beginning of life"

FOOT = Foot(
    model="Heron microsatellite",
    cases=(HOT, COLD),
    policy="5 K flat, both sides",
    bus_voltage="24 V to 32 V",
    hash="3f2a9c81d07be455",
    version="0.1.0",
)

NAMES = (
    "star camera", "payload electronics", "battery", "reaction wheel 1", "reaction wheel 2",
    "reaction wheel 3", "on-board computer", "power unit", "transmitter", "receiver",
    "magnetometer", "gyroscope", "telescope tube", "focal plane electronics",
    "thruster valve, upper left", "thruster valve, lower right",
    "pressure transducer of the propellant feed line", "solar array drive", "antenna feed",
    "radiator doubler", "data recorder", "sun sensor +x", "sun sensor -x", "magnetic torquer",
    "navigation receiver", "harness bracket", "hinge damper", "release mechanism",
    "calibration lamp", "shutter motor", "spectrometer grating mount", "laser altimeter head",
    "accelerometer", "launch lock", "deck heat spreader",
)  # fmt: skip
GROUPS = ("payload", "power", "attitude", "communication", "propulsion", "structure")


def margin(
    component: str,
    side: Side,
    calculated: float,
    limit: float,
    *,
    allowance: float = 5.0,
    case: str = "",
    band: str = "operating",
    held_by: str = "",
    duty: float = 0.0,
) -> Margin:
    """A temperature margin by its definition, from °C."""
    sign = 1.0 if side == "hot" else -1.0
    allowance = 0.0 if held_by else allowance
    clearance = sign * (limit - calculated)
    verdict: Verdict = "holds"
    if clearance - allowance < 0.0:
        verdict = "outside band" if clearance < 0.0 else "allowance not covered"
    return Margin(
        component=component,
        group="",
        band=band,
        quantity="temperature",
        side=side,
        case=case or (HOT if side == "hot" else COLD),
        node=component,
        instant=0.0,
        calculated=calculated + ZERO,
        allowance=allowance,
        predicted=calculated + sign * allowance + ZERO,
        limit=limit + ZERO,
        margin=clearance - allowance,
        clearance=clearance,
        verdict=verdict,
        held_by=held_by,
        duty=duty,
        allowed_duty=0.8,
    )


def component(
    name: str,
    cold: tuple[float, float],
    hot: tuple[float, float],
    operating: tuple[float, float],
    non_operating: tuple[float, float] | None = None,
    *,
    group: str = "",
    allowance: float = 5.0,
    held_by: str = "",
    duty: float = 0.0,
    others: tuple[Margin, ...] = (),
) -> Summary:
    """A component judged in a cold and a hot case, everything in °C."""
    bands = {"operating": (operating[0] + ZERO, operating[1] + ZERO)}
    if non_operating is not None:
        bands["non-operating"] = (non_operating[0] + ZERO, non_operating[1] + ZERO)
    ranges = tuple(
        CaseRange(case=case, kind=kind, lowest=ends[0] + ZERO, highest=ends[1] + ZERO)
        for case, kind, ends in ((HOT, "hot", hot), (COLD, "cold", cold))
    )
    return Summary(
        component=name,
        group=group,
        level="design",
        bands=bands,
        ranges=ranges,
        hot=margin(name, "hot", hot[1], operating[1], allowance=allowance),
        cold=margin(
            name, "cold", cold[0], operating[0], allowance=allowance, held_by=held_by, duty=duty
        ),
        others=others,
    )


def without_band(name: str, group: str = "") -> Summary:
    ranges = (CaseRange(case=HOT, kind="hot", lowest=20.0 + ZERO, highest=31.0 + ZERO),)
    return Summary(
        component=name, group=group, level="design", bands={}, ranges=ranges, hot=None, cold=None
    )


def not_solved(name: str, group: str = "") -> Summary:
    whole = component(name, (5.0, 9.0), (20.0, 30.0), (-10.0, 45.0), (-25.0, 60.0), group=group)
    gone = Margin(
        component=name, group=group, band="operating", quantity="temperature", side="cold",
        case=COLD, node=name, instant=math.nan, calculated=math.nan, allowance=5.0,
        predicted=math.nan, limit=-10.0 + ZERO, margin=math.nan, clearance=math.nan,
        verdict="not solved",
    )  # fmt: skip
    return Summary(
        component=name, group=group, level="design", bands=whole.bands, ranges=whole.ranges[:1],
        hot=whole.hot, cold=gone,
    )  # fmt: skip


def fleet(count: int, seed: int = 3) -> list[Summary]:
    """So many components: the first ones fail in every way, the rest hold."""
    random = np.random.default_rng(seed)
    made = [
        component("star camera", (-12.0, -6.0), (31.0, 48.2), (-30.0, 50.0), (-40.0, 60.0),
                  group="attitude"),
        component("battery", (9.6, 13.2), (18.0, 27.4), (0.0, 35.0), (-10.0, 45.0),
                  group="power", held_by="battery heater", duty=0.62),
        component("payload electronics", (-8.0, 2.0), (30.0, 41.8), (-15.0, 45.0), (-30.0, 60.0),
                  group="payload"),
    ]  # fmt: skip
    made[0] = component(
        "star camera", (-12.0, -6.0), (31.0, 48.2), (-30.0, 50.0), (-40.0, 60.0),
        group="attitude", allowance=5.0,
    )  # fmt: skip
    for k in range(len(made), count):
        name = NAMES[k % len(NAMES)] + (f" {1 + k // len(NAMES)}" if k >= len(NAMES) else "")
        low = float(random.choice([-30.0, -20.0, -15.0, -10.0]))
        high = float(random.choice([40.0, 45.0, 50.0, 60.0]))
        spare = random.uniform(5.5, 16.0, 2)
        cold, hot = low + spare[0], high - spare[1]
        made.append(
            component(
                name,
                (cold, cold + random.uniform(1.0, 9.0)),
                (hot - random.uniform(2.0, 14.0), hot),
                (low, high),
                (low - 10.0, high + 15.0),
                group=GROUPS[k % len(GROUPS)],
            )
        )
    return made


def mission() -> list[Summary]:
    """36 judged components and more: all verdicts, heaters, a cryogenic detector, no bands."""
    made = fleet(33)
    made[0] = component("star camera", (-12.0, -6.0), (31.0, 48.2), (-30.0, 50.0), (-40.0, 60.0),
                        group="attitude")  # fmt: skip
    made[3] = component("reaction wheel 1", (1.0, 8.0), (35.0, 52.5), (-10.0, 50.0), (-20.0, 65.0),
                        group="attitude")  # fmt: skip
    tank = component("propellant tank", (11.2, 14.4), (17.0, 26.0), (8.0, 40.0), (5.0, 50.0),
                     group="propulsion", held_by="tank heater", duty=0.92)  # fmt: skip
    made.append(tank)
    made.append(component("infrared detector", (-196.2, -195.6), (-194.9, -193.0), (-200.0, -188.0),
                          (-220.0, 60.0), group="payload", allowance=2.0))  # fmt: skip
    made.append(not_solved("thruster catalyst bed", "propulsion"))
    made += [without_band("bus panel +y", "structure"), without_band("bus panel -y", "structure")]
    return made


def further(
    component: str,
    quantity: Quantity,
    band: str,
    got: float,
    limit: float,
    *,
    verdict: Verdict,
    case: str = "hot",
) -> Margin:
    """A limit on a difference [K], a rate [K/s] or a duty; `got` is calculated and predicted."""
    return Margin(
        component=component, group="", band=band, quantity=quantity, side="hot", case=case,
        node=component, instant=0.0, calculated=got, allowance=0.0, predicted=got, limit=limit,
        margin=limit - got, clearance=limit - got, verdict=verdict,
    )  # fmt: skip


def limit(
    name: str,
    quantity: Quantity,
    got: float,
    most: float,
    *,
    verdict: Verdict = "holds",
    side: Side = "hot",
) -> Summary:
    """A limit of its own, judged in the hot case; values in SI."""
    judged = further(name, quantity, quantity, got, most, verdict=verdict)
    size = (most - got) * (1.0 if side == "hot" else -1.0)
    judged = replace(judged, side=side, level="", margin=size, clearance=size)
    return Summary(
        component=name, group="", level="", bands={}, ranges=(), hot=None, cold=None,
        others=(judged,),
    )  # fmt: skip


def small_probe() -> list[Summary]:
    """Short case names, a survival case, bands of states, further limits, a furnace, open bands."""
    battery = component("battery", (-3.0, 4.0), (22.0, 31.0), (0.0, 35.0), (-20.0, 45.0),
                        held_by="battery heater", duty=1.0)  # fmt: skip
    charging = margin("battery", "hot", 31.0, 30.0, case="hot", band="charging")
    bent = further("mirror mount", "difference", "difference to bench", 6.2, 5.0,
                   verdict="outside band")  # fmt: skip
    slow = further("mirror mount", "rate", "", 0.5 / 60.0, 5.0 / 60.0, verdict="holds")
    mount = component("mirror mount", (4.0, 8.0), (18.0, 24.0), (-10.0, 40.0), (-20.0, 55.0),
                      others=(bent, slow))  # fmt: skip
    heater = component("valve", (9.0, 12.0), (20.0, 25.0), (5.0, 50.0), (0.0, 60.0), others=(
        further("valve", "duty", "duty of valve heater", 0.92, 0.8, case="cold",
                verdict="allowance not covered"),
    ), held_by="valve heater", duty=0.92)  # fmt: skip
    both = component("transmitter", (-15.0, 2.0), (30.0, 58.0), (-10.0, 50.0), (-30.0, 60.0))
    furnace = component("sample furnace", (300.0, 420.0), (600.0, 741.0), (250.0, 800.0),
                        (-50.0, 850.0), allowance=20.0)  # fmt: skip
    array = component("solar array", (-148.0, 20.0), (-110.0, 104.0), (-165.0, 125.0),
                      (-180.0, 140.0))  # fmt: skip
    detector = component("infrared detector", (-196.2, -195.6), (-194.9, -190.0), (-200.0, -188.0),
                         (-220.0, 60.0), allowance=3.0)  # fmt: skip
    plain = component("radio", (-9.0, 2.0), (25.0, 36.0), (-20.0, 50.0))
    charged = replace(
        battery, hot=charging, bands={**battery.bands, "charging": (ZERO, 30.0 + ZERO)}
    )
    return [
        _renamed(item)
        for item in (
            charged, mount, heater, both, furnace, array, detector, plain,
        )
    ]  # fmt: skip


def _renamed(item: Summary) -> Summary:
    """The same with short case names, and with a survival case that governs the cold side."""
    names = {HOT: "hot", COLD: "cold"}
    ranges = [replace(part, case=names[part.case]) for part in item.ranges]
    hot = item.hot and replace(item.hot, case=names.get(item.hot.case, item.hot.case))
    cold = item.cold and replace(item.cold, case="cold")
    if item.component in ("radio", "valve"):
        lowest = item.bands["operating"][0] - 8.0
        ranges.append(
            CaseRange(case="survival", kind="survival", lowest=lowest, highest=lowest + 5.0)
        )
    if item.component == "radio":
        cold = margin("radio", "cold", -28.0, -35.0, case="survival", band="non-operating")
        bands = {**item.bands, "non-operating": (-35.0 + ZERO, math.inf)}
        return replace(item, ranges=tuple(ranges), hot=hot, cold=cold, bands=bands)
    return replace(item, ranges=tuple(ranges), hot=hot, cold=cold)
