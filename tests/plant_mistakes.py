"""Plants physical mistakes in copies of the package, one at a time: the tests must find each.

    python tests/plant_mistakes.py

prints one line for each mistake and ends with status 1 if one of them was missed. Run by `.ci/run`
and not by pytest. Each mistake replaces a text that must stand in its file exactly once, so that
a mistake that no longer fits the code is an error here and not a silent success.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[1]
COPIED = ("thermnet", "tests", "cases", "pyproject.toml")
WORKERS = 2
LONGEST = 180.0
"""s for one run of the core tests; beyond it the mistake has stopped the solver and is found."""

CASE = "tests/test_cases.py::test_a_shipped_case_keeps_its_promises_closes_and_holds"
CORE = (
    "tests/test_allowance.py",
    "tests/test_states.py",
    "tests/test_margins.py",
    "tests/test_held_items.py",
    "tests/test_results.py",
    "tests/network",
    "tests/model/test_blankets.py",
    "tests/model/test_atmospheres.py",
    "tests/physics/test_blanket.py",
    "tests/solve/test_steady.py",
    "tests/solve/test_closed_forms.py",
    "tests/solve/test_thermostats.py",
    "tests/solve/test_transient.py",
    "tests/model/test_sky.py",
    "tests/model/test_exterior.py",
    "tests/model/test_heaters.py",
    "tests/model/test_timelines.py",
    "tests/physics/test_cells.py",
    f"{CASE}[bench_top-warm]",
    f"{CASE}[bench_top-cold]",
    f"{CASE}[bench_top-cool-down]",
    f"{CASE}[deep_space_probe-hot]",
    f"{CASE}[deep_space_probe-cold]",
    f"{CASE}[mars_lander-storage]",
)
"""Quick tests that, taken together, must fail for every mistake."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mistake:
    name: str
    file: str
    right: str
    wrong: str


MISTAKES = (
    Mistake(
        name="a conductivity at the end of its range instead of its integral",
        file="thermnet/model/kinds/conductor.py",
        right="        strength, potential = entry.shape, Potential(curve=known)\n",
        wrong="        strength, potential = entry.shape * float(known.y[-1]), CONDUCTION\n",
    ),
    Mistake(
        name="faces of an enclosure reflect by the reflectance and not by its root",
        file="thermnet/physics/exchange.py",
        right="    dark = np.sqrt(1.0 - emittance[gray])\n",
        wrong="    dark = 1.0 - emittance[gray]\n",
    ),
    Mistake(
        name="the walls of a honeycomb are all single",
        file="thermnet/physics/honeycomb.py",
        right="    return Core(through=8.0 / 3.0 * solid, ribbon=1.5 * solid, across=solid)\n",
        wrong="    return Core(through=2.0 * solid, ribbon=1.5 * solid, across=solid)\n",
    ),
    Mistake(
        name="one fastener for all of a joint",
        file="thermnet/model/kinds/joint.py",
        right="        total += entry.fasteners.count * around.shelf",
        wrong="        total += around.shelf",
    ),
    Mistake(
        name="a fin absorbs with all of its area",
        file="thermnet/model/exterior.py",
        right="    light = optics.absorptance * area * sky.sunlight\n",
        wrong="    light = optics.absorptance * surface.area * sky.sunlight\n",
    ),
    Mistake(
        name="a heat pipe shuts where it should open",
        file="thermnet/model/kinds/heat_pipe.py",
        right="        gas = ramp(told.shut_below, told.open_above, told.shut, 1.0)\n",
        wrong="        gas = ramp(told.shut_below, told.open_above, 1.0, told.shut)\n",
    ),
    Mistake(
        name="degrees Celsius in the fourth power",
        file="thermnet/physics/potentials.py",
        right="        squared = temperature * temperature\n",
        wrong="        squared = (temperature - 273.15) * (temperature - 273.15)\n",
    ),
    Mistake(
        name="a link's heat is given to one end only (heat balance)",
        file="thermnet/network/pattern.py",
        right="        values = np.concatenate([np.ones(len(into)), -np.ones(len(out_of))])\n",
        wrong="        values = np.concatenate([np.ones(len(into)), -np.zeros(len(out_of))])\n",
    ),
    Mistake(
        name="a link's heat is given to one end only (prepared heat balance)",
        file="thermnet/network/pattern.py",
        right="                both = [(a, b, strength), (b, a, strength)]\n",
        wrong="                both = [(a, b, strength)]\n",
    ),
    Mistake(
        name="a blanket leads straight to space, past its outer face",
        file="thermnet/model/kinds/blanket_terms.py",
        right="a=entry.from_, b=to or entry.to, strength=",
        wrong='a=entry.from_, b=to or "space", strength=',
    ),
    Mistake(
        name="an opening of a blanket shines on its outer face, not past it",
        file="thermnet/model/kinds/blanket_terms.py",
        right="            parts=_links(entry, here, RADIATION, strength, to=opening.to),\n",
        wrong="            parts=_links(entry, here, RADIATION, strength),\n",
    ),
    Mistake(
        name="layers are counted to a metre where the formula counts to a centimetre",
        file="thermnet/physics/blanket.py",
        right="CENTIMETRE = 0.01\n",
        wrong="CENTIMETRE = 1.0\n",
    ),
    Mistake(
        name="gas crosses one gap less than there are",
        file="thermnet/model/kinds/blanket_gas.py",
        right="        strength=entry.closed_area / gaps,\n",
        wrong="        strength=entry.closed_area / (gaps - 1),\n",
    ),
    Mistake(
        name="a thermostat's thresholds are swapped: on at the upper, off at the lower",
        file="thermnet/solve/events.py",
        right="    rising = np.zeros(0, dtype=bool) if state is None else state > 0.5\n",
        wrong="    rising = np.zeros(0, dtype=bool) if state is None else state < 0.5\n",
    ),
    Mistake(
        name="the allowance has the wrong sign",
        file="thermnet/margins.py",
        right="    predicted = extreme.value + sign * extra\n",
        wrong="    predicted = extreme.value - sign * extra\n",
    ),
    Mistake(
        name="the allowance is applied twice",
        file="thermnet/margins.py",
        right="    predicted = extreme.value + sign * extra\n",
        wrong="    predicted = extreme.value + 2.0 * sign * extra\n",
    ),
    Mistake(
        name="a jump of a history is averaged",
        file="thermnet/network/grid.py",
        right="        start=read_only(later[:-1].copy()),\n",
        wrong="        start=read_only((later[:-1] + earlier[:-1]) / 2.0),\n",
    ),
    Mistake(
        name="a massless node is given a capacity",
        file="thermnet/network/build.py",
        right="        capacity.append(np.array([part.capacity]))\n",
        wrong="        capacity.append(np.array([max(part.capacity, 1.0)]))\n",
    ),
    Mistake(
        name="extremes are taken at output instants only",
        file="thermnet/solve/transient.py",
        right="extremes=_extremes(temperature, begin + offset, end + offset, segment),",
        wrong="extremes=_extremes(np.repeat(at_output[:-1, None], len(LOBATTO), axis=1), "
        "output[:-1], output[1:], segment[which[:-1]]),",
    ),
    Mistake(
        name="the duty is that of another heater",
        file="thermnet/heaters.py",
        right="    duty = float(result.solution.heater_duty[own[0]])\n",
        wrong="    duty = float(result.solution.heater_duty[own[0] - 1])\n",
    ),
    Mistake(
        name="the power of a resistor goes with the voltage, not with its square",
        file="thermnet/model/kinds/heater.py",
        right="            return bus_voltage * bus_voltage / self.resistance\n",
        wrong="            return bus_voltage / self.resistance\n",
    ),
    Mistake(
        name="what leaves a battery is not more than the loads receive",
        file="thermnet/physics/cells.py",
        right="        factor = charge_efficiency if charges else 1.0 / discharge_efficiency\n",
        wrong="        factor = charge_efficiency if charges else 1.0\n",
    ),
    Mistake(
        name="a step of a timeline begins at the edge of the shadow whatever its offset",
        file="thermnet/model/timelines.py",
        right='    return [edge + step.offset for edge in _edges(above, step.at or "")], turn\n',
        wrong='    return [edge for edge in _edges(above, step.at or "")], turn\n',
    ),
    Mistake(
        name="the band is that of the other state",
        file="thermnet/states.py",
        right="        return ~is_on(result, component)\n",
        wrong="        return is_on(result, component)\n",
    ),
    Mistake(
        name="infrared is absorbed by the solar absorptance",
        file="thermnet/model/exterior.py",
        right="            optics.emittance * area,\n",
        wrong="            optics.absorptance * area,\n",
    ),
    Mistake(
        name="the Sun shines through the planet",
        file="thermnet/physics/exposure.py",
        right="            flux.sunlight(seen, sun) * lit[:, None],\n",
        wrong="            flux.sunlight(seen, sun),\n",
    ),
    Mistake(
        name="the planet reflects all sunlight",
        file="thermnet/model/exterior.py",
        right='        "albedo": (light * sky.albedo, reflected, open_sky),\n',
        wrong='        "albedo": (light, reflected, open_sky),\n',
    ),
    Mistake(
        name="finishes do not age",
        file="thermnet/model/kinds/finish.py",
        right="    if life == BEGINNING or beginning == end:\n",
        wrong="    if life is not None or beginning == end:\n",
    ),
    Mistake(
        name="the node drifts the other way",
        file="thermnet/physics/orbit.py",
        right="    return -1.5 * strength * tilt,",
        wrong="    return 1.5 * strength * tilt,",
    ),
)


def copy_to(folder: Path) -> None:
    for name in COPIED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy2(source, folder / name)


def plant(mistake: Mistake, folder: Path) -> None:
    """Raises ValueError unless the text to replace stands in the file exactly once."""
    path = folder / mistake.file
    text = path.read_text(encoding="utf-8")
    count = text.count(mistake.right)
    if count != 1:
        raise ValueError(
            f"'{mistake.name}': the text to replace stands {count} times in {mistake.file}; "
            "write the mistake for the code as it is now"
        )
    path.write_text(text.replace(mistake.right, mistake.wrong), encoding="utf-8")


def core_tests(folder: Path) -> tuple[int, str]:
    """Status of the core tests in a copy, 1 where a test fails, and what they printed."""
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-n", "0", "-p", "no:cacheprovider"]
    environment = os.environ | {"PYTHONPATH": str(folder), "PYTHONDONTWRITEBYTECODE": "1"}
    try:
        done = subprocess.run(
            [*command, *CORE], cwd=folder, env=environment,
            capture_output=True, text=True, timeout=LONGEST, check=False,
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        return 1, "no end"
    return done.returncode, done.stdout + done.stderr


def tried(mistake: Mistake | None) -> tuple[bool, str]:
    """Whether all is as it should be with a mistake (or with none), and a line that says so."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        copy_to(folder)
        if mistake is not None:
            plant(mistake, folder)
        status, printed = core_tests(folder)
    by = re.search(r"^FAILED \S+::(\w+)", printed, re.MULTILINE)
    where = by.group(1) if by else "no end of the tests"
    if mistake is None:
        return status == 0, "core tests hold" if status == 0 else f"core tests fail: {where}"
    if status == 1:
        return True, f"caught  {mistake.name} ({where})"
    if status == 0:
        return False, f"MISSED  {mistake.name}"
    return False, f"BROKEN  {mistake.name}: the tests did not run (status {status})"


def main() -> int:
    good, line = tried(None)
    print(line, flush=True)
    if not good:
        return 1
    with ThreadPoolExecutor(WORKERS) as pool:
        results = []
        for result in pool.map(tried, MISTAKES):
            print(result[1], flush=True)
            results.append(result[0])
    print(f"{sum(results)} of {len(results)} planted mistakes are caught")
    return 0 if all(results) else 1


if __name__ == "__main__":
    sys.exit(main())
