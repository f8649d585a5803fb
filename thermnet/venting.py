"""How great a pressure difference lies on the blankets of a model while the pressure falls.

Nothing is solved for: it is a matter of the gas, the holes and the pressure outside. What stands
here is a first look for a thermal engineer, in place neither of a qualified review of the ascent
nor of a test.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermnet.errors import InputError, Problem
from thermnet.model.kinds.atmosphere import Atmosphere
from thermnet.model.kinds.blanket_entry import Blanket
from thermnet.model.kinds.gas import Gas, gas
from thermnet.model.kinds.venting import Venting
from thermnet.model.model import Model
from thermnet.model.plan import Plan
from thermnet.physics.venting import (
    AIR,
    GREATEST_VOLUME,
    LEAST_AREA,
    STANDARD_ATMOSPHERE,
    Exchange,
    Greatest,
    Outside,
    Vented,
    greatest_difference,
)

CAUTION = (
    "a first look: one well-mixed volume and sharp holes that stay open; have the venting reviewed "
    "by those who are qualified for it, against the ascent of the launcher, and tested"
)
"""What is said wherever these numbers are shown."""

GUIDANCE = "rules of thumb, from memory of practice: guidance, no requirement"
"""What is said of the two rules."""


@dataclass(frozen=True, slots=True, kw_only=True)
class VentingRow:
    """The venting of one blanket in a case.

    `outside` says in words how the pressure outside falls, `gas` which gas leaves: that of the
    atmosphere whose pressure falls, else air. `difference`
    [Pa] is the greatest that the inside lies above the outside, at `instant` [s] where the outside
    is at `pressure` [Pa], and `exchange` what the gas inside does then; `force` [N] is that on the
    covered area. All of them are None where no pressure falls, and `outside` says so.

    `time_constant` [s] is that of emptying into a vacuum. `area_to_volume` [1/m] and
    `volume_to_area` [m] are held against two rules of thumb, each `ample` where it is kept; they
    are guidance.
    """

    case: str
    blanket: str
    outside: str
    gas: str
    difference: float | None
    instant: float | None
    pressure: float | None
    exchange: Exchange | None
    force: float | None
    time_constant: float
    area_to_volume: float
    ample_area: bool
    volume_to_area: float
    ample_vents: bool


def venting_table(model: Model, how: Plan) -> tuple[VentingRow, ...]:
    """A row for each blanket that states its venting, in the order of the file.

    `model` has the case of the plan applied. Raises InputError, which names all of them, where the
    pressure inside cannot be followed or the gas is not known.
    """
    rows: list[VentingRow] = []
    problems: list[Problem] = []
    for name, entry in model.entries(Blanket, "blankets").items():
        if entry.venting is not None:
            try:
                rows.append(_row(model, how, name, entry, entry.venting))
            except ValueError as error:
                problems.append(Problem(message=str(error), path=f"blankets.{name}.venting"))
    if problems:
        raise InputError(model.located(problems))
    return tuple(rows)


def _row(model: Model, how: Plan, name: str, entry: Blanket, holes: Venting) -> VentingRow:
    outside, words = _outside(model, how, holes)
    which, molar_mass, heat_ratio = _gas(model, how)
    vented = Vented(
        volume=holes.volume,
        vents=holes.vents,
        discharge=holes.discharge,
        temperature=holes.temperature,
        molar_mass=molar_mass,
        heat_ratio=heat_ratio,
    )
    worst: Greatest | None = None if outside is None else greatest_difference(vented, outside)
    return VentingRow(
        case=how.name,
        blanket=name,
        outside=words,
        gas=which,
        difference=None if worst is None else worst.difference,
        instant=None if worst is None else worst.instant,
        pressure=None if worst is None else worst.outside,
        exchange=None if worst is None else worst.exchange,
        force=None if worst is None else worst.difference * entry.area,
        time_constant=vented.time_constant,
        area_to_volume=holes.vents / holes.volume,
        ample_area=holes.vents / holes.volume >= LEAST_AREA,
        volume_to_area=holes.volume / holes.vents,
        ample_vents=holes.volume / holes.vents <= GREATEST_VOLUME,
    )


def _outside(model: Model, how: Plan, holes: Venting) -> tuple[Outside | None, str]:
    """The pressure outside, where it falls, and in words how."""
    around = _falling(model, how)
    if around is not None:
        return _followed(around, how)
    if holes.steepest_fall is None:
        return None, "no pressure falls: state an `atmosphere` over time, or `steepest_fall`"
    span = (STANDARD_ATMOSPHERE - holes.down_to) / holes.steepest_fall
    ends = np.array([STANDARD_ATMOSPHERE, holes.down_to])
    falling = Outside(time=np.array([0.0, span]), pressure=ends, straight="pressure")
    return falling, f"{holes.steepest_fall:g} Pa/s down to {holes.down_to:g} Pa"


def _followed(around: Atmosphere, how: Plan) -> tuple[Outside | None, str]:
    """The pressure of an atmosphere over time, as far as the case goes."""
    words = f"atmosphere '{how.atmosphere}'"
    whole = Outside(time=np.array(around.time), pressure=np.array(around.pressures))
    inner = whole.time < how.span
    if not inner.any():
        return None, f"{words}, whose pressure first changes after the case ends"
    end = min(how.span, float(whole.time[-1]))
    time = np.append(whole.time[inner], end) if end > whole.time[inner][-1] else whole.time
    seen = Outside(time=time, pressure=whole.at(time))
    if (np.diff(seen.pressure) > 0.0).any():
        words += "; where it rises, outside above inside is not looked at"
    return seen, words


def _gas(model: Model, how: Plan) -> tuple[str, float, float]:
    """The gas that leaves: its name, molar mass [kg/mol] and ratio of specific heats."""
    around = _falling(model, how)
    if around is None:
        return ("air", *AIR)
    facts = gas(around.gas, model.entries(Gas, "gases"))
    return facts.name, facts.molar_mass, facts.heat_capacity_ratio


def _falling(model: Model, how: Plan) -> Atmosphere | None:
    """The atmosphere of a case where its pressure goes with time: a test chamber is no launch."""
    if how.atmosphere is None:
        return None
    around = model.entries(Atmosphere, "atmospheres")[how.atmosphere]
    return around if around.time else None
