"""Solar cells and the battery that they charge: efficiency over temperature, and charge over time.

What cells give is taken out of the sunlight that they absorb: of the flux S on an area A, alpha A S
is absorbed, packing x efficiency x A S leaves as electrical power, and the rest is heat. (The
thermal absorptance of an operating cell, alpha - packing x efficiency: an energy balance.)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermnet.physics.curves import Curve, Floats

Flags = np.ndarray[tuple[int, ...], np.dtype[np.bool_]]

BRIM = 1e-12
"""Share of its capacity that a full battery may lack by rounding."""


def efficiency_curve(efficiency: float, at: float, slope: float, most: float) -> Curve | None:
    """Efficiency over temperature [K] as a share of that at the temperature `at`; None for 1.

    The efficiency is a straight line, `efficiency + slope (T - at)` with `slope` [1/K] <= 0 (common
    practice of data sheets, which state both numbers), but never less than 0 nor above `most`,
    which is no less than `efficiency`.
    """
    if slope == 0.0:
        return None
    none_left = at - efficiency / slope
    coldest = max(at + (most - efficiency) / slope, 0.0)
    left = (efficiency + slope * (coldest - at)) / efficiency
    return Curve(x=np.array([coldest, none_left]), y=np.array([left, 0.0]))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Charge:
    """What a battery holds over time.

    `energy` f8[k] [J] at `time` f8[k] [s], strictly increasing; `losses` f8[k] [J] is what has
    become heat until then, `lacking` f8[k] [J] what an empty battery has failed to give. `full`
    says of each of the k - 1 stretches whether the battery is full and takes nothing.
    """

    time: Floats
    energy: Floats
    losses: Floats
    lacking: Floats
    full: Flags


def charge_over_time(
    time: Floats,
    surplus: Floats,
    *,
    capacity: float,
    begins: float,
    charge_efficiency: float,
    discharge_efficiency: float,
    empty: float = 0.0,
) -> Charge:
    """What a battery holds while a surplus f8[k] [W] flows to it, or what lacks from it.

    The surplus joins the instants `time` f8[k] [s], which increase strictly, by straight lines.
    Of a surplus P the share `charge_efficiency` is held, until the battery is full; for -P that it
    gives, P / `discharge_efficiency` leaves it, until it is `empty` [J] (-inf for one that never
    is). `begins` [J] is what it holds at first. The instants of the result are those given and
    those at which the surplus changes its sign or the battery becomes full or empty.
    """
    rises = np.flatnonzero(surplus[:-1] * surplus[1:] < 0.0)
    share = surplus[rises] / (surplus[rises] - surplus[rises + 1])
    crossings = time[rises] + share * (time[rises + 1] - time[rises])
    instants = np.union1d(time, crossings)
    power = np.interp(instants, time, surplus)
    at, held, lost, lacked, brimming = [float(instants[0])], [begins], [0.0], [0.0], []

    def then(instant: float, energy: float, lack: float, full: bool) -> None:
        change = energy - held[-1]
        loss = (
            change * (1.0 / charge_efficiency - 1.0)
            if change > 0.0
            else -change * (1.0 - discharge_efficiency)
        )
        at.append(instant)
        held.append(energy)
        lost.append(lost[-1] + loss)
        lacked.append(lacked[-1] + lack)
        brimming.append(full)

    pieces = zip(
        instants[:-1].tolist(),
        instants[1:].tolist(),
        power[:-1].tolist(),
        power[1:].tolist(),
        strict=True,
    )
    for begin, end, first, last in pieces:
        # No piece has both signs in it, so that one efficiency holds throughout.
        charges = first + last >= 0.0
        factor = charge_efficiency if charges else 1.0 / discharge_efficiency
        bound = capacity if charges else empty
        now, change = held[-1], factor * (first + last) / 2.0 * (end - begin)
        room = bound - now
        near = BRIM * capacity if np.isfinite(capacity) else 0.0
        if abs(room) <= near:
            then(end, now, 0.0 if charges else -change / factor, charges)
        elif abs(change) < abs(room):
            then(end, now + change, 0.0, False)
        else:
            reached = begin + _after(room / factor, first, last, end - begin)
            reached = min(max(reached, begin), end)
            if reached > begin:
                then(reached, bound, 0.0, False)
            if end > reached:
                rest = (change - room) / factor
                then(end, bound, 0.0 if charges else -rest, charges)
    return Charge(
        time=np.array(at),
        energy=np.array(held),
        losses=np.array(lost),
        lacking=np.array(lacked),
        full=np.array(brimming, dtype=bool),
    )


def _after(energy: float, first: float, last: float, width: float) -> float:
    """Seconds after which power that goes from first to last [W] in `width` [s] sums to energy.

    The root of first t + (last - first) t^2 / (2 width) = energy in the form that does not cancel.
    """
    bend = (last - first) / (2.0 * width)
    root = float(np.sqrt(max(first * first + 4.0 * bend * energy, 0.0)))
    divisor = first + (root if energy >= 0.0 else -root)
    return 2.0 * energy / divisor if divisor != 0.0 else width
