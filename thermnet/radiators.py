"""What the radiators of a solved case reject, to what, and how much larger they are than over."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

import numpy as np

from thermnet.model.assemble import surroundings
from thermnet.model.kinds.kind import Surroundings
from thermnet.model.kinds.radiator import Radiator, fin_efficiency
from thermnet.network.network import Network, flows, sources
from thermnet.network.primitives import Floats
from thermnet.network.subset import blocks, subset
from thermnet.results import Result
from thermnet.solve.steady import recorded

NOTHING = float("nan")
"""Stands for a number that there is not."""

HOT = 1000.0
"""K, at which radiators are looked at for how strongly they radiate."""

EXCESS = 0.10
"""Excess of radiator area to keep until the model is correlated with a test: SMC-S-016 (2014),
4.4.2.1 a, read. A requirement only where the project makes it one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RadiatorRow:
    """One radiator in one case; temperatures in K, heat in W, areas in m2.

    `emitted` is what it gives net to all that it sees, and to an atmosphere; `absorbed` what it
    takes up of sunlight, albedo, planet infrared and plumes; `rejected` the former less the latter,
    which is the heat that comes to its root: the mean, and the `most` with its instant [s].
    `absorptance` is NaN where nobody states it, `view` the mean share of the sky in what it sees.
    `sink` is the temperature of a black environment with which it exchanges the same radiation, in
    the mean of fourth powers, and `hottest_sink` the highest.
    `efficiency_to_sink` is that of its fin to this sink, NaN where its fin states none. `excess` is
    how much more heat it would reject with its root at `allowed` and the efficiency that its fin
    has there, mean over mean, so how much more area it has than it needs; `least_excess` is the
    least that it would reject more at an instant, over the same mean. Both are NaN where no
    temperature is allowed it or it takes heat in, and the former where no area would do, since it
    would take heat in at `allowed` (see `hopeless`).
    """

    case: str
    radiator: str
    node: str
    area: float
    efficiency: float
    emittance: float
    absorptance: float
    view: float
    lowest: float
    mean: float
    highest: float
    emitted: float
    absorbed: float
    rejected: float
    most: float
    most_at: float
    sink: float
    hottest_sink: float
    efficiency_to_sink: float
    allowed: float
    excess: float
    least_excess: float

    @property
    def hopeless(self) -> bool:
        """Whether it has heat to reject that no area would reject at the allowed temperature."""
        return not math.isnan(self.allowed) and self.rejected > 0.0 and math.isnan(self.excess)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Heats:
    """A radiator at q samples: what it emits, absorbs and could emit with its root at the allowed
    temperature, f8[q] [W] each. Radiation comes to it, `coming` f8[q] [W], from a sink at the
    temperature whose fourth power times `strength` f8[q] [W/K4] is that.
    """

    emitted: Floats
    absorbed: Floats
    able: Floats
    coming: Floats
    strength: Floats


def radiator_table(result: Result) -> tuple[RadiatorRow, ...]:
    """One row for each radiator of a case, in the order of the file; none for one not solved."""
    entries = result.model.entries(Radiator, "radiators")
    if not entries or result.solution.failure:
        return ()
    around = surroundings(result.model, result.plan)
    return tuple(_row(result, name, entry, around) for name, entry in entries.items())


def _row(result: Result, name: str, entry: Radiator, around: Surroundings) -> RadiatorRow:
    outside = around.exterior[name]
    efficiency = functools.partial(
        fin_efficiency, entry, outside.effective_emittance, around.shelf.material
    )
    stated = entry.fin is not None and entry.fin.sink is not None
    record, extremes = result.solution.record, result.solution.extremes
    network = recorded(result.network, result.solution)
    node = network.index(entry.node)
    weight = record.weight / record.weight.sum()
    heats = _heats(network, result, name, node, entry.hottest)
    rejected, able = heats.emitted - heats.absorbed, heats.able - heats.absorbed
    if entry.hottest is not None:
        able = able * efficiency(entry.hottest) / outside.efficiency
    sink = float(weight @ heats.coming / (weight @ heats.strength)) ** 0.25
    most = int(rejected.argmax())
    given, excess, least = float(weight @ rejected), NOTHING, NOTHING
    if entry.hottest is not None and given > 0.0:
        over = float(weight @ able) / given
        excess = over - 1.0 if over > 0.0 else NOTHING
        least = float((able - rejected).min()) / given
    return RadiatorRow(
        case=result.case,
        radiator=name,
        node=entry.node,
        area=entry.area,
        efficiency=outside.efficiency,
        emittance=outside.emittance,
        absorptance=outside.absorptance,
        view=outside.fractions[entry.to].mean,
        lowest=float(extremes.lowest[:, node].min()),
        mean=float(result.solution.mean[node]),
        highest=float(extremes.highest[:, node].max()),
        emitted=float(weight @ heats.emitted),
        absorbed=float(weight @ heats.absorbed),
        rejected=given,
        most=float(rejected[most]),
        most_at=float(record.time[most]),
        sink=sink,
        hottest_sink=float((heats.coming / heats.strength).max()) ** 0.25,
        efficiency_to_sink=efficiency(None, sink) if stated else NOTHING,
        allowed=NOTHING if entry.hottest is None else entry.hottest,
        excess=excess,
        least_excess=least,
    )


def _heats(network: Network, result: Result, name: str, node: int, hottest: float | None) -> _Heats:
    record, path = result.solution.record, f"radiators.{name}"
    own = np.array([origin == path for origin in network.origins])
    taken = np.array([_absorbs(origin, name, path) for origin in network.origins])
    links, heats = network.links, network.heats
    # Links of a radiator begin at its node: see the expansion of surfaces.
    few = subset(network, links=own[links.origin], heats=taken[heats.origin])
    radiating = few.links.of_law("radiation")
    found = np.zeros((5, len(record.time)))
    numbers = few.histories.start.shape[-1] + 3 * len(few.names)
    for part in blocks(len(record.time), numbers):
        temperature, time = record.temperature[part], record.local_time[part]

        def through(root: float | None, at: Floats = temperature, t: Floats = time) -> Floats:
            """Heat [W] from the root, which has its own temperature or this one, by each link."""
            changed = at.copy()
            if root is not None:
                changed[:, node] = root
            return flows(few, changed, t)[:, : len(few.links.a)]

        absorbed = sources(few, temperature, time).sum(axis=1)
        incoming = -through(0.0)[:, radiating].sum(axis=1)
        # By a root that is hot enough for what comes in not to drown it.
        strength = (through(HOT)[:, radiating].sum(axis=1) + incoming) / HOT**4
        found[:, part] = (
            through(None).sum(axis=1),
            absorbed,
            through(hottest).sum(axis=1),
            np.maximum(incoming + absorbed, 0.0),
            strength,
        )
    emitted, absorbed, able, coming, strength = found
    return _Heats(emitted=emitted, absorbed=absorbed, able=able, coming=coming, strength=strength)


def _absorbs(origin: str, name: str, path: str) -> bool:
    """Whether a heat is one that a radiator absorbs: its own, or that of a plume."""
    if origin.startswith(f"{path}."):
        return True
    return origin.startswith("plumes.") and origin.endswith(f".surfaces.{name}")
