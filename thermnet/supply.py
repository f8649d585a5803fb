"""Who feeds whom: solar cells, the battery, and what units and heaters take through a solution."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermnet.model.assemble import surroundings
from thermnet.model.kinds.battery import Battery
from thermnet.model.kinds.heater import Heater
from thermnet.model.kinds.surface import Surface
from thermnet.model.kinds.unit import Unit
from thermnet.model.model import Model
from thermnet.model.plan import Plan
from thermnet.network.grid import common_grid
from thermnet.network.network import Network
from thermnet.network.primitives import Floats
from thermnet.physics.cells import Charge, charge_over_time
from thermnet.samples import heater_heat, heats_by_path
from thermnet.solve.solution import Record, Solution

JUMP = 1e-6
"""s within which a change of power is a jump."""

PIECES = 60
"""Pieces of an orbit over each of which a mean is taken of what is drawn from a full battery's
cells, so that a heater's switching there is not followed but its energy is."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Powers:
    """Powers over the time of a case, its period where it repeats (then means over all turns).

    `time` f8[k] [s] increases strictly: a jump takes less than `JUMP`. `cells` f8[k, c] [W] is what
    the cells of each surface can give, at their temperature; `units`, `sent` and `heaters` f8[k]
    [W] what is taken. A steady case has one instant.
    """

    time: Floats
    cells: Floats
    units: Floats
    sent: Floats
    heaters: Floats

    @property
    def available(self) -> Floats:
        """What all cells together can give, f8[k] [W]."""
        return np.asarray(self.cells.sum(axis=1))

    @property
    def demand(self) -> Floats:
        """What is taken in all, f8[k] [W]."""
        return self.units + self.sent + self.heaters


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Supply:
    """Who feeds whom: the solar cells, and the battery with its loads.

    `network` is that in which all cells give all that they can. `name` and `battery` are "" and
    None without one, and then the surfaces are all that have cells. `begins` is the share of its
    capacity that it holds at the start of a transient case.
    """

    model: Model
    how: Plan
    network: Network
    name: str
    battery: Battery | None
    surfaces: tuple[str, ...]
    begins: float

    @property
    def turn(self) -> float:
        """The orbit, or else the time of the case [s]."""
        orbit = None if self.how.sky is None else self.how.sky.period
        return min(orbit or self.how.span, self.how.span)

    @property
    def marks(self) -> Floats:
        """Instants [s] a piece apart, from 0 to before the end."""
        return np.arange(0.0, self.how.span, self.turn / PIECES)

    @property
    def cells(self) -> list[str]:
        """The paths of the solar cells."""
        return [f"surfaces.{name}.cells" for name in self.surfaces]


def supply_of(model: Model, how: Plan, network: Network, begins: float | None = None) -> Supply:
    """Who feeds whom in a case; `network` is that with nothing known of what is drawn.

    `begins` is the share of charge at the start where it is not the one that the battery states.
    """
    batteries = model.entries(Battery, "batteries")
    surfaces = model.entries(Surface, "surfaces")
    name, battery = next(iter(batteries.items()), ("", None))
    with_cells = tuple(each for each, surface in surfaces.items() if surface.cells is not None)
    return Supply(
        model=model,
        how=how,
        network=network,
        name=name,
        battery=battery,
        surfaces=with_cells if battery is None else battery.cells,
        begins=begins if begins is not None else 1.0 if battery is None else battery.begins,
    )


def powers_of(supply: Supply, solution: Solution) -> Powers:
    """The powers at the temperatures of a solution."""
    record, network = solution.record, supply.network
    cells = -heats_by_path(network, supply.cells, record)
    units = heats_by_path(network, [f"units.{each}" for each in _fed(supply, Unit)], record)
    sent = _sent(supply, record)
    heaters = heater_heat(network, _fed(supply, Heater), record)
    table = np.column_stack([cells, units.sum(axis=1), sent, heaters])
    time, table = over_one_turn(record, network.histories.period, table)
    c = cells.shape[1]
    return Powers(
        time=time,
        cells=table[:, :c],
        units=table[:, c],
        sent=table[:, c + 1],
        heaters=table[:, c + 2],
    )


def _fed(supply: Supply, kind: type[Unit] | type[Heater]) -> tuple[str, ...]:
    """The units or heaters that the battery and its cells feed; none without a battery."""
    section = "units" if kind is Unit else "heaters"
    if supply.battery is None:
        return ()
    stated: tuple[str, ...] | None = getattr(supply.battery, section)
    return tuple(supply.model.sections[section]) if stated is None else stated


def _sent(supply: Supply, record: Record) -> Floats:
    """Power that leaves as radio waves or light; it follows schedule, scale and bus voltage."""
    total = np.zeros(len(record.time))
    units = supply.model.entries(Unit, "units")
    sending = [units[name] for name in _fed(supply, Unit) if units[name].sent]
    if not sending:
        return total
    around = surroundings(supply.model, supply.how)
    for unit in sending:
        factor = unit.scale * unit.voltage_factor(around.bus_voltage)
        sent = around.by_mode(unit.sent, unit.schedule)
        follows = np.ones(1)
        if sent.history is not None:
            follows = common_grid([sent.history]).at(record.local_time)[:, 0]
        total = total + sent.amplitude * factor * follows
    return total


def over_one_turn(record: Record, period: float, table: Floats) -> tuple[Floats, Floats]:
    """Instants f8[k] of one period [s], and means f8[k, m] over all its turns in the record."""
    if not np.isfinite(period):
        return record.local_time, table
    turn = np.rint((record.time - record.local_time) / period).astype(np.int64)
    first, last = int(turn[0]), int(turn[-1])
    if first == last:
        return record.local_time, table
    instants = np.unique(record.local_time)
    total = np.zeros((len(instants), table.shape[1]))
    for k in range(first, last + 1):
        own = turn == k
        for m in range(table.shape[1]):
            total[:, m] += np.interp(instants, record.local_time[own], table[own, m])
    return instants, total / (last + 1 - first)


def charging(supply: Supply, solution: Solution, powers: Powers) -> Charge:
    """What the battery holds through a history: from its start, or as it repeats.

    Where a period takes more than the cells give, no state repeats: then it is shown as if there
    were no bounds, from zero, and the end is below the start.
    """
    battery = the_battery(supply)
    time = np.union1d(powers.time, supply.marks)
    time = time[(time >= powers.time[0]) & (time <= powers.time[-1])]
    surplus = np.interp(time, powers.time, powers.available - powers.demand)

    def over(begins: float, capacity: float = battery.capacity, empty: float = 0.0) -> Charge:
        return charge_over_time(
            time,
            surplus,
            capacity=capacity,
            begins=begins,
            charge_efficiency=battery.charge_efficiency,
            discharge_efficiency=battery.discharge_efficiency,
            empty=empty,
        )

    if solution.kind == "transient":
        return over(supply.begins * battery.capacity)
    again = over(float(over(battery.capacity).energy[-1]))
    # Where it has once been full, what came before no longer counts: so the second turn repeats.
    if again.full.any() or again.energy[-1] >= again.energy[0]:
        return again
    return over(0.0, capacity=np.inf, empty=-np.inf)


def the_battery(supply: Supply) -> Battery:
    """The battery, where it is known that there is one. Raises ValueError without."""
    if supply.battery is None:
        raise ValueError("there is no battery")
    return supply.battery
