"""What the units take in each mode, against the power that they may take."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from thermnet.errors import Problem
from thermnet.model.kinds.mode import Mode
from thermnet.model.kinds.unit import Unit
from thermnet.model.model import Model
from thermnet.model.plan import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class ModeTotal:
    """What all units together give as heat and send away [W] in a mode; the schedules of units and
    their change with temperature are left out. `budget` [W] is None where the mode states none.
    """

    mode: str
    heat: float
    sent: float
    budget: float | None

    @property
    def left(self) -> float | None:
        """W left of the budget, negative where it is exceeded."""
        return None if self.budget is None else self.budget - self.heat - self.sent


def mode_totals(model: Model, bus_voltage: float | None = None) -> tuple[ModeTotal, ...]:
    """The total of every mode, by the model's units as they are, at a bus voltage [V].

    Without a voltage units that go by it count as the file states them.
    """
    found = []
    units = model.entries(Unit, "units").values()
    for name, mode in model.entries(Mode, "modes").items():
        heat = sent = 0.0
        for unit in units:
            factor = 1.0 if bus_voltage is None else unit.voltage_factor(bus_voltage)
            heat += unit.heat.get(name, 0.0) * unit.scale * factor
            sent += unit.sent.get(name, 0.0) * unit.scale * factor
        found.append(ModeTotal(mode=name, heat=heat, sent=sent, budget=mode.budget))
    return tuple(found)


def over_budget(model: Model, how: Plan) -> Iterator[Problem]:
    """A warning for each mode of a case whose units take more than its budget."""
    due = () if how.activity is None else how.activity.modes
    for total in mode_totals(model, how.bus_voltage):
        if total.mode in due and total.left is not None and total.left < -1e-9:
            taken = total.heat + total.sent
            message = (
                f"in case '{how.name}' the units take {taken:g} W, {-total.left:g} W more than the "
                f"budget of {total.budget:g} W"
            )
            yield Problem(message=message, path=f"modes.{total.mode}.budget", severity="warning")
