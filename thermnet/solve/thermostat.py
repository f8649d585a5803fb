"""Thermostats in a steady state: proportional over their bands, some off, some on, some between.

Newton's steps are taken without the thermostats. How every sensor answers to every heater follows
from the same factored matrix, and decides in a system as small as there are heaters that may be
between. More power never cools a sensor: heaters whose sensor stays above its band without any
heat are off, and those whose sensor stays below with all of it are on.

Method: the primal-dual active set of M. Hintermueller, K. Ito, K. Kunisch, SIAM J. Optim. 13
(2002) 865 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from thermnet.network.network import heater_powers
from thermnet.network.primitives import Flags, Floats, Indices, Thermostats
from thermnet.solve.control import moved
from thermnet.solve.front import Front
from thermnet.solve.linear import Factor

MOST_STEPS = 20
"""Steps after which the search for who is off, on or between is given up."""

MOST_SETS = 50
"""Most times that heaters change between off, on and between, at one temperature."""

CERTAIN = 5.0
"""K by which a sensor must clear its band, with all heaters or none, to be left out of account."""

SETTLED = 0.01
"""Share of the narrowest band; after a smaller step plain Newton steps find the way."""

EXACT, ABOUT = 1e-3, 1e-2
"""Residual of the linear solves for steps, and of those for the answers of the sensors."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """Temperatures f8[n] [K] near balance, and the work done."""

    temperature: Floats
    steps: int
    factorizations: int
    iterations: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Answers:
    """How sensors warm [K] by the heaters' full power, near one temperature.

    `on` f8[h] says which are on for certain; `between` are the numbers of those that may be
    between, the rest is off. `response` f8[b, b] says how the sensors (rows) of these answer.
    """

    on: Flags
    between: Indices
    response: Floats


@dataclass(slots=True, kw_only=True)
class _Search:
    """The network without its thermostats, and the heaters' powers f8[h] [W] at full duty."""

    front: Front
    power: Floats
    factor: Factor | None = None
    factorizations: int = 0
    iterations: int = 0

    def refactor(self, temperature: Floats) -> None:
        self.factor = self.front.factor(np.zeros(len(temperature)), temperature, 0.0)
        self.factorizations += 1

    def solved(self, temperature: Floats, right: Floats, *, about: bool = False) -> Floats:
        """Temperature changes f8[n] [K] that heat f8[n] [W] leads to, `about` or as exactly as it
        takes.
        """
        if self.factor is None:
            self.refactor(temperature)
        found, count = self.front.solve(
            self.factor,  # type: ignore[arg-type]
            np.zeros(len(temperature)),
            temperature,
            0.0,
            right,
            exact=ABOUT if about else EXACT,
            own=about,  # a factor made nearby is near enough
        )
        self.iterations += count
        return found

    def heated(self, duty: Floats) -> Floats:
        """Heat of the heaters into every node [W]."""
        stats = self.front.balance.network.thermostats
        n = len(self.front.balance.network.names)
        return np.bincount(stats.node, self.power * duty, n).astype(np.float64)

    def changed(
        self, temperature: Floats, step: Floats, duty: Floats, wanted: Floats
    ) -> tuple[Floats, Floats]:
        """A step f8[n] that was found for some duties, with others."""
        if np.array_equal(duty, wanted):
            return step, duty
        return step + self.solved(temperature, self.heated(wanted - duty)), wanted


def hold(front: Front, temperature: Floats) -> Held:
    """Newton's steps from f8[n], until the thermostats have settled.

    Raises ZeroDivisionError for a singular matrix.
    """
    network = front.balance.network
    stats = network.thermostats
    full = heater_powers(network, np.ones(len(stats.node)), 0.0)
    search = _Search(
        front=replace(front, balance=front.balance.switched(np.zeros(len(stats.node)))),
        power=np.where(np.isin(stats.node, network.boundary), 0.0, full),
    )
    answers: _Answers | None = None
    duty: Floats = np.zeros(len(full))
    steps, change = 0, np.inf
    while steps < MOST_STEPS and change > SETTLED * float((stats.off - stats.on).min()):
        if front.kind == "dense":
            search.refactor(temperature)
        net: Floats = search.front.balance.heat(temperature, 0.0) + search.heated(duty)
        step = search.solved(temperature, net)
        sensed = (temperature + step)[stats.sensor]
        if answers is None or front.kind == "dense" or _outgrown(answers, stats, sensed):
            answers = _answers(search, temperature, sensed, duty)
            certain = answers.on.astype(np.float64)
            certain[answers.between] = duty[answers.between]
            step, duty = search.changed(temperature, step, duty, certain)
            sensed = (temperature + step)[stats.sensor]
        some = answers.between
        if len(some):
            unaided = sensed[some] - answers.response @ duty[some]
            wanted = duty.copy()
            wanted[some] = _settled(answers.response, unaided, stats.on[some], stats.off[some])
            step, duty = search.changed(temperature, step, duty, wanted)
        old, temperature = temperature, temperature.copy()
        temperature[front.free] = moved(old[front.free], step[front.free])
        change = float(np.abs(temperature - old).max())
        steps += 1
    return Held(
        temperature=temperature,
        steps=steps,
        factorizations=search.factorizations,
        iterations=search.iterations,
    )


def _outgrown(answers: _Answers, stats: Thermostats, sensed: Floats) -> bool:
    """Whether a heater thought to be off or on for certain may be between after all."""
    known = np.ones(len(sensed), dtype=bool)
    known[answers.between] = False
    off, on = known & ~answers.on, known & answers.on
    return bool((sensed[off] < stats.off[off]).any() or (sensed[on] > stats.on[on]).any())


def _answers(search: _Search, temperature: Floats, sensed: Floats, duty: Floats) -> _Answers:
    """Look at one temperature at how sensors `sensed` f8[h] [K] at `duty` f8[h] would answer."""
    network = search.front.balance.network
    stats = network.thermostats

    def answer(duty: Floats) -> Floats:
        heat = search.heated(duty)
        return search.solved(temperature, heat, about=True)[stats.sensor]

    coldest = sensed - answer(duty) if duty.any() else sensed
    hottest = coldest + answer(np.ones(len(duty)))
    # What is nearly certain is looked at as well, since the answers are those of one temperature.
    on = hottest <= stats.on - CERTAIN
    between = np.flatnonzero((coldest < stats.off + CERTAIN) & ~on).astype(np.int32)
    heat: Floats = np.zeros((len(temperature), len(between)))
    heat[stats.node[between], np.arange(len(between))] = search.power[between]
    if search.front.kind == "preconditioned":
        columns = [search.solved(temperature, column, about=True) for column in heat.T]
        changes: Floats = np.array(columns).reshape(len(between), len(temperature)).T
    else:
        changes = search.solved(temperature, heat, about=True)
    return _Answers(on=on, between=between, response=changes[stats.sensor[between]])


def _settled(response: Floats, unaided: Floats, on: Floats, off: Floats) -> Floats:
    """Duties f8[b] at which each is what its law says of its own sensor.

    `unaided` f8[b] [K] are the sensors' temperatures without these heaters.
    """
    band = off - on
    alone = band + np.diag(response)
    duty = np.clip((off - unaided) / alone, 0.0, 1.0)
    sets = None
    for _ in range(MOST_SETS):
        # What each would have to do next if it were alone; the plain law would overshoot.
        missing = off - unaided - response @ duty - band * duty
        low, high = duty + missing / alone <= 0.0, duty + missing / alone >= 1.0
        middle = ~(low | high)
        if sets is not None and np.array_equal(sets, (low, high)):
            break
        sets = np.array([low, high])
        duty = high.astype(np.float64)
        if middle.any():
            own = np.diag(band[middle]) + response[np.ix_(middle, middle)]
            right = (off - unaided - response @ duty)[middle]
            duty[middle] = np.linalg.solve(own, right)
    return np.clip(duty, 0.0, 1.0)
