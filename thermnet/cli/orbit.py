"""The command `orbit`: where a case flies, and what its surfaces absorb there."""

from __future__ import annotations

import argparse
import json
import math
import textwrap
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from thermnet.cli.inputs import chosen_cases, loaded
from thermnet.cli.outputs import save_figures, tell
from thermnet.cli.status import HOLDS
from thermnet.cli.tables import celsius, grid
from thermnet.files import write_rows
from thermnet.heating import SurfaceHeat, surface_heat
from thermnet.model.kinds.finish import Finish, finish
from thermnet.model.model import Model
from thermnet.model.paths import apply_case
from thermnet.model.plan import Plan, plan
from thermnet.model.sky import Sky
from thermnet.model.surfaces import surfaces_of
from thermnet.physics.setting import Flight, Stand

WIDTH = 100
"""Characters of a line of words."""

CAUSES = ("solar", "albedo", "planet_infrared", "free_molecular")

Found = dict[str, tuple[Plan, tuple[SurfaceHeat, ...]]]
"""By case, how it is flown and what its surfaces absorb."""


def orbit(options: argparse.Namespace) -> int:
    """Print the orbit, the environment and the absorbed heat of each case; draw them on request."""
    model = loaded(options.model, options.changes)
    cases = chosen_cases(model, options.case)
    found = {
        case: (plan(apply_case(model, case), case), surface_heat(model, case)) for case in cases
    }
    if options.json:
        print(json.dumps([_data(how, heat) for how, heat in found.values()], indent=1))
    else:
        print("\n\n".join(_text(model, how, heat) for how, heat in found.values()))
    if options.out:
        _write(model, found, Path(options.out))
    return HOLDS


def _text(model: Model, how: Plan, heat: Sequence[SurfaceHeat]) -> str:
    lines = [f"{model.name}, {how.title}", *_where(how)]
    if heat:
        lines += ["", *_table(heat)]
    if finishes := [*_finishes(apply_case(model, how.name))]:
        lines += ["", *finishes]
    return "\n".join(lines)


def _where(how: Plan) -> Iterator[str]:
    """The orbit or site, the light, and where the numbers come from."""
    sky = how.sky
    if sky is None:
        yield "no orbit: heat is absorbed only where the file states it"
        return
    if isinstance(sky.setting, Flight) and sky.body is not None and sky.beta is not None:
        flown = sky.setting.orbit
        low, high = (
            (flown.semi_major_axis * (1.0 + sign * flown.eccentricity) - sky.body.radius) / 1000.0
            for sign in (-1.0, 1.0)
        )
        shape = f"{low:.1f} km" if high - low < 0.05 else f"{low:.1f} to {high:.1f} km"
        yield (
            f"around {sky.body.name} at {shape}, period {sky.setting.period:.1f} s, "
            f"beta angle {sky.beta:.2f} deg"
        )
        yield _shadow(how)
    elif isinstance(sky.setting, Stand) and sky.body is not None:
        latitude, declination = (
            math.degrees(sky.setting.latitude),
            math.degrees(sky.setting.declination),
        )
        yield (
            f"on {sky.body.name} at a latitude of {latitude:g} deg, Sun {declination:g} deg north "
            f"of the equator, day {sky.setting.day:.0f} s"
        )
        yield _shadow(how)
    else:
        yield "between the planets"
    yield f"sunlight {sky.sunlight:.1f} W/m2 at {sky.sun_distance:.4f} au{_planet(sky)}"
    if sky.environment is not None and sky.environment.source:
        source = f"environment {sky.environment.name}: {sky.environment.source}"
        yield textwrap.fill(source, WIDTH, subsequent_indent="  ")


def _planet(sky: Sky) -> str:
    if sky.body is None:
        return ""
    added = 0.0 if sky.environment is None else sky.albedo - sky.environment.albedo
    albedo = f"; albedo {sky.albedo:.3f}"
    if sky.site is not None:
        return f"; ground reflects {sky.albedo:.3f}"
    if added > 1e-9:
        albedo += f" ({sky.albedo - added:.3f} and {added:.3f} for the beta angle)"
    day = sky.infrared + sky.day_infrared
    glow = f"; planet infrared {sky.infrared:.1f} W/m2"
    if sky.day_infrared > 0.0:
        glow = f"; planet infrared {sky.infrared:.1f} W/m2 at night, {day:.1f} below the Sun"
    return albedo + glow


def _shadow(how: Plan) -> str:
    light = how.sunlight
    if light is None or light.period is None:
        return "always in sunlight"
    share = 1.0 - light.mean(0.0)
    if share < 1e-9:
        return "always in sunlight"
    word = "night" if how.sky is not None and how.sky.site is not None else "shadow"
    parts = [f"{begin:.1f} to {end:.1f} s" for begin, end in how.shadows(light.period)]
    return f"{word} {100.0 * share:.2f} % of the time: {', '.join(parts)}"


def _table(heat: Sequence[SurfaceHeat]) -> Iterator[str]:
    causes = [cause for cause in CAUSES if any(cause in each.mean for each in heat)]
    head = ["surface", "area m2", "absorptance", "emittance"]
    head += [f"{cause.replace('_', ' ')} W" for cause in causes]
    head += ["total W", "sink degC", "lowest", "highest"]
    rows = [
        [
            each.name,
            f"{each.area:.4g}",
            "-" if math.isnan(each.absorptance) else f"{each.absorptance:.3f}",
            f"{each.emittance:.3f}",
            *(f"{each.mean.get(cause, 0.0):.2f}" for cause in causes),
            f"{sum(each.mean.values()):.2f}",
            *(
                ("-", "-", "-")
                if each.sink is None
                else map(celsius, (each.sink.mean, each.sink.lowest, each.sink.highest))
            ),
        ]
        for each in heat
    ]
    yield "absorbed heat, mean over the period, and equivalent sink temperatures"
    yield grid(head, rows)


def _finishes(model: Model) -> Iterator[str]:
    """Where the numbers of every finish come from that a surface has."""
    entries = model.entries(Finish, "finishes")
    used = (each.finish for each in surfaces_of(model).values())
    for name in dict.fromkeys(each for each in used if each is not None):
        source = f"finish {name}: {finish(name, entries).source}"
        yield textwrap.fill(source, WIDTH, subsequent_indent="  ")


def _data(how: Plan, heat: Sequence[SurfaceHeat]) -> dict[str, Any]:
    """For programs: SI and kelvin; the beta angle in degrees and the distance in au."""
    sky = how.sky
    data: dict[str, Any] = {"case": how.name}
    if sky is not None:
        light = how.sunlight
        shaded = 0.0 if light is None or light.period is None else 1.0 - light.mean(0.0)
        data |= {
            "period": sky.period,
            "beta": sky.beta,
            "sun_distance": sky.sun_distance,
            "sunlight": sky.sunlight,
            "albedo": sky.albedo,
            "infrared": sky.infrared,
            "day_infrared": sky.infrared + sky.day_infrared,
            "shadow": shaded,
            "source": "" if sky.environment is None else sky.environment.source,
        }
    data["surfaces"] = [
        {
            "surface": each.name,
            "area": each.area,
            "absorptance": None if math.isnan(each.absorptance) else each.absorptance,
            "emittance": each.emittance,
            "mean": dict(each.mean),
            "sink": None
            if each.sink is None
            else {"mean": each.sink.mean, "lowest": each.sink.lowest, "highest": each.sink.highest},
        }
        for each in heat
    ]
    return data


def _write(model: Model, found: Found, folder: Path) -> None:
    """Histories as CSV and figures, for each case."""
    from thermnet.figures import from_heating

    folder.mkdir(parents=True, exist_ok=True)
    for case, (how, heat) in found.items():
        rows = (
            [each.name, cause, f"{time:.6f}", f"{value:.6g}"]
            for each in heat
            for cause, history in each.heat.items()
            for time, value in zip(history.time, history.value, strict=True)
        )
        head = ["surface", "cause", "time [s]", "heat [W]"]
        tell(write_rows(folder / f"heat-{case}.csv", head, rows))
        figures = from_heating.heat_plot(model, how, heat)
        if figures:
            save_figures(figures, folder / f"heat-{case}.png")
        through_the_year = from_heating.beta_plot(model, how)
        if through_the_year is not None:
            save_figures([through_the_year], folder / f"beta-{case}.png")
