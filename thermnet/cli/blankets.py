"""The command `blankets`: what leads heat through every blanket, term by term, case by case."""

from __future__ import annotations

import argparse
import dataclasses
import json
import math
import sys
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from thermnet.blankets import BlanketRow, BlanketTotal, blanket_totals, over_pressure
from thermnet.cli.inputs import chosen_cases, loaded, solver_options
from thermnet.cli.outputs import save_figures, tell, warn, warn_of_accounts
from thermnet.cli.status import HOLDS, UNSOLVED
from thermnet.cli.tables import celsius, grid, instant, margin_data, title
from thermnet.cli.tables import margins as margin_table
from thermnet.errors import InputError, Problem
from thermnet.files import write_rows
from thermnet.margins import Margin, margins
from thermnet.model.kinds.blanket_entry import Blanket
from thermnet.model.usable import usable
from thermnet.physics.venting import GREATEST_VOLUME, LEAST_AREA
from thermnet.results import Result, solve_cases
from thermnet.venting import CAUTION as CAUTION_OF_VENTING
from thermnet.venting import GUIDANCE, VentingRow, venting_table

Found = tuple[Result, tuple[BlanketTotal, ...]]

HEAD = ["term", "heat W", "share", "effective emittance", "source"]

PRESSURES = np.logspace(-6.0, 5.0, 111)
"""Pa, from a good vacuum to sea level."""

LONG = 40
"""Letters of a source beyond which it stands below the tables."""

NAMED = ("compressed", "seams", "fixings", "openings")
"""Keys of a blanket under which each term has a name of its own."""

SIGN = (
    "heat counts as positive from the covered node outwards. Heat and temperatures are means over "
    "time; an effective emittance is that between the covered surface and the outer face by the "
    "means of their T^4, '-' where these are alike or say nothing of the heat"
)

SQUARE_MILLIMETRES_PER_LITRE = 1000.0
"""In one square metre per cubic metre."""

CAUTION = "what a blanket lets through as built is known from test only: correlate it there"


def blankets(options: argparse.Namespace) -> int:
    """Solve cases and explain their blankets term by term; status 3 for an unsolved case."""
    model = loaded(options.model, options.changes)
    if not model.sections["blankets"]:
        raise InputError([Problem(message=f"{model.file}: the model has no blankets")])
    results = solve_cases(model, chosen_cases(model, options.case), solver_options(options))
    found = [(result, blanket_totals(result)) for result in results]
    if options.json:
        print(json.dumps([_data(*each) for each in found], indent=1))
    else:
        numbers = _numbered(found)
        told = [_text(result, totals, numbers) for result, totals in found]
        told += [*_of_venting(results), *_of_materials(results)]
        sources = [f"[{number}] {source}" for source, number in numbers.items()]
        print("\n\n".join([*told, "\n".join([*sources, SIGN, CAUTION])]))
    if options.out:
        folder = Path(options.out)
        folder.mkdir(parents=True, exist_ok=True)
        tell(_write([total for _, totals in found for total in totals], folder / "blankets.csv"))
        _draw(found, folder / "blanket-pressure.png")
    warn(results)
    warn_of_accounts(results)
    return UNSOLVED if any(result.solution.failure for result in results) else HOLDS


def _of_venting(results: Sequence[Result]) -> tuple[str, ...]:
    """How trapped gas gets out of blankets during ascent, where they say so."""
    alike: dict[VentingRow, list[str]] = {}  # a stated fall is the same in every case
    for result in results:
        for row in venting_table(result.model, result.plan):
            alike.setdefault(dataclasses.replace(row, case=""), []).append(row.case)
    if not alike:
        return ()
    told = [
        [
            row.blanket,
            ", ".join(cases),
            "-" if row.difference is None else f"{row.difference:.3g}",
            "-" if row.instant is None else instant(row.instant),
            "-" if row.force is None else f"{row.force:.3g}",
            f"{row.time_constant:.3g}",
            f"{SQUARE_MILLIMETRES_PER_LITRE * row.area_to_volume:.3g}{_kept(row.ample_area)}",
            f"{row.volume_to_area:.3g}{_kept(row.ample_vents)}",
            row.gas,
            row.outside,
        ]
        for row, cases in alike.items()
    ]
    least = f"{SQUARE_MILLIMETRES_PER_LITRE * LEAST_AREA:.3g}"
    rules = (
        f"vents over volume at least {least} mm2/l, volume over vents at most "
        f"{GREATEST_VOLUME:.3g} m: {GUIDANCE}"
    )
    head = [
        "blanket",
        "case",
        "most Pa inside above outside",
        "at",
        "N on its area",
        "empties in s",
    ]
    head += ["vents over volume mm2/l", "volume over vents m", "gas", "pressure outside"]
    return ("\n".join(["venting during ascent", grid(head, told), rules, CAUTION_OF_VENTING]),)


def _kept(rule: bool) -> str:
    return "" if rule else " (not kept)"


def _of_materials(results: Sequence[Result]) -> tuple[str, ...]:
    """Margins of the materials that blankets are made of, where they name them."""
    found = _margins_of_materials(results)
    if not found:
        return ()
    return (f"materials of blankets, within what they may be used at\n{margin_table(found)}",)


def _margins_of_materials(results: Sequence[Result]) -> list[Margin]:
    materials = {name for result in results for name in usable(result.model)}
    return [each for each in margins(results) if each.component in materials] if materials else []


def _text(result: Result, totals: Sequence[BlanketTotal], numbers: Mapping[str, int]) -> str:
    if result.solution.failure:
        return f"{title(result)}\nNOT SOLVED: {result.solution.failure}"
    return "\n\n".join([title(result), *(_blanket(total, numbers) for total in totals)])


def _blanket(total: BlanketTotal, numbers: Mapping[str, int]) -> str:
    """The terms of a blanket, their sum, and what is to be said of them."""
    rows = [
        [_named(row), _watts(row.heat), _percent(row.share), _emittance(row), _source(row, numbers)]
        for row in total.terms
    ]
    rows.append(["all", _watts(total.heat), _percent(_all(total)), _emittance(total), ""])
    head = (
        f"blanket {total.blanket}, {total.area:g} m2: {total.covered} at "
        f"{celsius(total.covered_mean)} degC, {total.outer} at {celsius(total.outer_mean)} degC"
    )
    said = [note for row in total.terms for note in row.notes]
    notes = [f"note: {note}" for note in dict.fromkeys([*said, *total.notes])]
    return "\n".join([head, grid(HEAD, rows), *notes])


def _named(row: BlanketRow) -> str:
    """A term by the name that the file gives it, where it does, and in words."""
    below = row.term.removeprefix(f"blankets.{row.blanket}.").removeprefix("layers.").split(".")
    return f"{below[1]}: {row.what}" if len(below) == 2 and below[0] in NAMED else row.what


def _watts(heat: float) -> str:
    """To five figures, so that a stitch of a milliwatt counts beside a seam."""
    return f"{heat:z.4f}" if abs(heat) < 1000.0 else f"{heat:.1f}"


def _all(total: BlanketTotal) -> float:
    """Share of all terms together: 1, not a number where theirs are none."""
    return math.nan if any(math.isnan(row.share) for row in total.terms) else 1.0


def _percent(share: float) -> str:
    return "-" if math.isnan(share) else f"{100.0 * share:z.1f} %"


def _emittance(found: BlanketRow | BlanketTotal) -> str:
    emittance = found.effective_emittance
    return "-" if math.isnan(emittance) else f"{emittance:z.5f}"


def _source(row: BlanketRow, numbers: Mapping[str, int]) -> str:
    """The line of the file, and where the term's numbers come from: in a word, or by a number."""
    line, source = row.place.rpartition(":")[0], row.source or "no source stated"
    for long, number in numbers.items():
        if source.endswith(long):
            source = f"{source.removesuffix(long)}[{number}]".replace("; [", ", [")
            break
    return ", ".join(words for words in (line, source) if words)


def _numbered(found: Sequence[Found]) -> dict[str, int]:
    """Sources too long for a table, which are told once below all of them, with their numbers."""
    rows = (row for _, totals in found for total in totals for row in total.terms)
    long = dict.fromkeys(row.source for row in rows if len(row.source) > LONG)
    once = [each for each in long if not any(each.endswith(f"; {other}") for other in long)]
    return {source: number for number, source in enumerate(once, start=1)}


def _data(result: Result, totals: Sequence[BlanketTotal]) -> dict[str, Any]:
    """The blankets of a case for programs: SI and kelvin."""
    vented = venting_table(result.model, result.plan)
    return {
        "model": result.model.name,
        "hash": result.model.hash(),
        "case": result.case,
        "kind": result.solution.kind,
        "failure": result.solution.failure,
        "blankets": [_known(dataclasses.asdict(total)) for total in totals],
        "venting": [_known(dataclasses.asdict(row)) for row in vented],
        "materials": [margin_data(margin) for margin in _margins_of_materials([result])],
    }


def _known(value: Any) -> Any:
    """The same with null for what is not a number."""
    if isinstance(value, dict):
        return {key: _known(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_known(each) for each in value]
    return None if isinstance(value, float) and math.isnan(value) else value


def _write(totals: Sequence[BlanketTotal], path: Path) -> Path:
    """Write every term in every case as CSV, and after those of a blanket their sum."""
    names = [field.name for field in dataclasses.fields(BlanketRow)]
    rows = [row for total in totals for row in (*total.terms, _sum(total))]
    return write_rows(
        path,
        names,
        (["; ".join(row.notes) if key == "notes" else getattr(row, key) for key in names]
         for row in rows),
    )  # fmt: skip


def _draw(found: Sequence[Found], path: Path) -> None:
    """Heat flow over the pressure of gas, of each blanket of known layers, where most goes through.

    The gas is that of the case's atmosphere, or nitrogen.
    """
    from thermnet.figures.pressure_plot import pressure_plot

    figures = []
    for result, name in _drawn(found):
        try:
            figures.append(pressure_plot(result, over_pressure(result, name, PRESSURES)))
        except ValueError as error:
            print(f"not drawn: {error}", file=sys.stderr)
    save_figures(figures, path)


def _drawn(found: Sequence[Found]) -> Iterator[tuple[Result, str]]:
    """Blankets whose layers and thickness are known, each with the case of most heat through it."""
    most: dict[str, tuple[float, Result]] = {}
    for result, totals in found:
        entries = result.model.entries(Blanket, "blankets")
        for total in totals:
            heat = abs(total.heat)
            known = entries[total.blanket].gas_thickness is not None and not math.isnan(heat)
            if known and heat > most.get(total.blanket, (-1.0, result))[0]:
                most[total.blanket] = heat, result
    yield from ((result, name) for name, (_, result) in most.items())


def _sum(total: BlanketTotal) -> BlanketRow:
    return BlanketRow(
        case=total.case,
        blanket=total.blanket,
        term="",
        what="all",
        heat=total.heat,
        share=_all(total),
        effective_emittance=total.effective_emittance,
        source="",
        place="",
        notes=total.notes,
    )
