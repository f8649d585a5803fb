"""The mutants of shipped models that give no error where they stand, and why."""

from __future__ import annotations

from dataclasses import dataclass
from fnmatch import fnmatchcase
from typing import Literal

from tests.model.mutants import Mutant

Verdict = Literal["error", "elsewhere", "valid"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """Mutants that give no error where they stand, and the reason.

    `keys` are patterns of paths; `verdict` says whether the mutant is valid or shown elsewhere.
    With `some` the reason names what tells those in error apart from these. With `company` other
    mutants in the same file may put an error on the line of each of them.
    """

    mutations: tuple[str, ...]
    keys: tuple[str, ...]
    reason: str
    verdict: tuple[Verdict, ...] = ("valid",)
    some: bool = False
    company: bool = False

    def covers(self, mutant: Mutant) -> bool:
        return mutant.mutation in self.mutations and any(
            fnmatchcase(mutant.pattern, key) for key in self.keys
        )


TEXTS = ("name", "description", "*.note", "*.title", "*.group")

LISTED = (
    Listed(
        mutations=("wrong unit", "dangling name", "sign"),
        keys=TEXTS,
        reason="free text may say anything",
    ),
    Listed(mutations=("drop",), keys=TEXTS, reason="text that may be left out"),
    Listed(
        mutations=("drop",),
        keys=("uncertainty", "uncertainty.balance_tested", "uncertainty.heater_duty"),
        reason="has a default, which the margins table states",
    ),
    Listed(
        mutations=("drop",),
        keys=("uncertainty.policy",),
        reason="the flat policy is the default; without an allowance it is an error",
        some=True,
    ),
    Listed(
        mutations=("drop",),
        keys=("temperatures",),
        reason="every bare temperature is then an error where it stands",
        verdict=("elsewhere",),
    ),
    Listed(
        mutations=("drop",),
        keys=(
            *("nodes", "nodes.table", "boundaries", "blankets", "loads", "schedules", "heaters"),
            *("orbits", "pointings", "finishes", "environments"),
            *("modes", "timelines", "units", "units.table", "bus_voltage"),
        ),
        reason="every reference to what is gone is an error where it stands",
        verdict=("elsewhere",),
    ),
    Listed(
        mutations=("drop",),
        keys=("surfaces", "components"),
        reason="the overrides that change what is gone are errors; without any, as sections below",
        verdict=("elsewhere", "valid"),
    ),
    Listed(
        mutations=("drop",),
        keys=("surfaces.table",),
        reason="a section needs entries: an error where the table holds all of them",
        verdict=("elsewhere", "valid"),
        some=True,
    ),
    Listed(
        mutations=("drop",),
        keys=("links", "radiation", "batteries", "limits", "failures", "cases"),
        reason="a model may have none; the network is checked before it is solved, and failures "
        "and limits that name what is gone are errors",
        verdict=("valid", "elsewhere"),
    ),
    Listed(
        mutations=("drop",),
        keys=tuple(f"blankets.[*].{key}" for key in ("low", "high", "bounds")),
        reason="an error at the override that asks for the bound",
        verdict=("elsewhere",),
    ),
    Listed(
        mutations=("drop",),
        keys=("blankets.*.layers.separator",),
        reason="an error at what is compressed, which needs one",
        verdict=("elsewhere",),
    ),
    Listed(
        mutations=("drop",),
        keys=(
            *("blankets.*.layers.compressed", "blankets.*.seams", "blankets.*.fixings"),
            *("blankets.*.openings", "blankets.*.made_of", "blankets.*.made_of.*"),
            *("blankets.*.venting", "blankets.*.venting.down_to"),
        ),
        reason="a blanket need not have them, and by default the pressure falls to nothing",
    ),
    Listed(
        mutations=("drop", "misspell"),
        keys=(
            *("blankets.*.layers.compressed.*", "blankets.*.seams.*", "blankets.*.fixings.*"),
            "blankets.*.openings.*",
        ),
        reason="the user's own name for it, or one fewer of them; a fixing is one by default, and "
        "what lies beneath an opening black",
        some=True,
    ),
    Listed(
        mutations=("drop",),
        keys=("surfaces.*.absorbed",),
        reason="an error at the override that changes the heat",
        verdict=("elsewhere",),
    ),
    Listed(
        mutations=("drop",),
        keys=(
            *("surfaces.*.absorbed.*.schedule", "loads.*.schedule", "units.*.schedule"),
            *("heaters.*.enabled", "heaters.*.modes"),
        ),
        reason="without a schedule or modes the heat is constant and the heater always enabled",
    ),
    Listed(mutations=("drop",), keys=("surfaces.*.view",), reason="a surface sees its sink fully"),
    Listed(
        mutations=("drop",),
        keys=("surfaces.*.absorptance",),
        reason="then that of the finish holds; without one it is an error",
        some=True,
    ),
    Listed(
        mutations=("drop",),
        keys=("surfaces.*.side", "orbits.*.periapsis", "environments.*.albedo_correction"),
        reason="each has a default",
    ),
    Listed(
        mutations=("drop",),
        keys=("orbits.*.body",),
        reason="the Earth by default, whose published environment asks for an inclination",
        verdict=("elsewhere", "valid"),
    ),
    Listed(
        mutations=("drop",),
        keys=("orbits.*.inclination",),
        reason="not needed beside beta, unless a published environment asks for it",
        verdict=("elsewhere", "valid"),
    ),
    Listed(
        mutations=("sign",),
        keys=("orbits.*.beta", "orbits.*.periapsis"),
        reason="an angle has either sign",
    ),
    Listed(
        mutations=("drop",),
        keys=("cases.*.orbit", "cases.*.life"),
        reason="those of the case that it extends hold; without one it is an error",
        some=True,
    ),
    Listed(
        mutations=("drop",),
        keys=("schedules.*.shape", "schedules.*.period"),
        reason="linear by default; without a period the last value holds",
    ),
    Listed(
        mutations=("drop",),
        keys=("heaters.*.rated_voltage",),
        reason="then the power does not go with the bus voltage",
    ),
    Listed(
        mutations=("drop",),
        keys=tuple(
            f"components.*.{key}"
            for key in (
                *("operating", "non_operating", "switch_on", "on", "unit", "held_by"),
                "uncertainty",
            )
        ),
        reason="each has a default; a component without any band is listed as such",
    ),
    Listed(
        mutations=("drop",),
        keys=("components.*.rate", "components.*.states", "components.*.differences"),
        reason="demands that a component need not state",
    ),
    Listed(
        mutations=("drop", "duplicate"),
        keys=("components.*.at.*",),
        reason="the worst of one node fewer, or of one counted twice",
    ),
    Listed(
        mutations=("misspell",),
        keys=("components.*.states.*", "components.*.differences.*"),
        reason="the user's own name for it; an override that holds it is an error",
        verdict=("valid", "elsewhere"),
        some=True,
    ),
    Listed(
        mutations=("drop",),
        keys=tuple(f"cases.*.{key}" for key in ("kind", "initial", "after", "blankets")),
        reason="each has a default",
    ),
    Listed(
        mutations=("drop",),
        keys=("cases.*.bus_voltage", "cases.*.timeline"),
        reason="that of the case that it extends holds; without one it is an error",
        some=True,
        company=True,
    ),
    Listed(
        mutations=("drop",),
        keys=("modes.*.budget", "units.*.heat", "units.*.heat.*", "units.*.sent", "units.*.sent.*"),
        reason="a mode need have no budget, and a unit gives nothing in modes that are left out",
    ),
    Listed(
        mutations=("sign",),
        keys=("modes.*.budget",),
        reason="minus zero is zero; any other negative budget is an error",
        some=True,
    ),
    Listed(
        mutations=("drop", "duplicate"),
        keys=("heaters.*.modes.*",),
        reason="one mode fewer, or one named twice",
    ),
    Listed(
        mutations=("duplicate",),
        keys=("schedules.*.modes.*", "failures.*.links.*", "failures.*.cases.*"),
        reason="one named twice",
    ),
    Listed(
        mutations=("drop",),
        keys=("failures.*.cases", "failures.*.cases.*"),
        reason="by default a failure is judged in all cases",
    ),
    Listed(
        mutations=("drop",),
        keys=("timelines.*.repeats",),
        reason="without it the last step goes on",
    ),
    Listed(
        mutations=("drop", "misspell"),
        keys=("timelines.*.steps.*",),
        reason="the user's own name for it; one step fewer, or the case's pointing, or what comes "
        "after the step before, which then lacks its duration",
        verdict=("valid", "elsewhere"),
        some=True,
    ),
    Listed(
        mutations=("drop",),
        keys=tuple(f"surfaces.*.cells.{key}" for key in ("at", "efficiency_slope", "packing")),
        reason="each has a default",
    ),
    Listed(
        mutations=("sign",),
        keys=("surfaces.*.cells.at", "cases.*.set.boundaries.*.temperature"),
        reason="a temperature in degC has either sign",
    ),
    Listed(
        mutations=("drop",),
        keys=("surfaces.*.cells",),
        reason="the battery's list of them, and overrides, are errors",
        verdict=("elsewhere",),
    ),
    Listed(
        mutations=("drop",),
        keys=("surfaces.*.follows_sun",),
        reason="with cells it is these that lack their sunlight",
        verdict=("elsewhere",),
        some=True,
    ),
    Listed(
        mutations=("drop",),
        keys=("batteries.*.cells.*",),
        reason="cells fewer, which give all that they can",
    ),
    Listed(
        mutations=("drop",),
        keys=("cases.*.extends",),
        reason="without it a case stands on the model; an error where it lacks a key then",
        some=True,
    ),
    Listed(
        mutations=("drop",),
        keys=("cases.*.solve",),
        reason="steady by default; an error where a period, duration or start is stated",
        verdict=("valid", "elsewhere"),
        some=True,
    ),
    Listed(
        mutations=("drop",),
        keys=("cases.*.set", "cases.*.set.*"),
        reason="the model's own value holds; of two thresholds set, the other is blamed",
        verdict=("valid", "elsewhere"),
        some=True,
    ),
    Listed(
        mutations=("wrong type",),
        keys=("cases.*.set.*",),
        reason="a bare number in place of a scale is a new value",
        some=True,
    ),
    Listed(
        mutations=("sign",),
        keys=("loads.*.heat", "cases.*.set.loads.*.heat", "cases.*.set.loads.*.heat.scale"),
        reason="negative heat is taken out, as the reference says",
    ),
    Listed(
        mutations=("sign",),
        keys=("nodes.*.initial",),
        reason="a temperature in degC has either sign",
    ),
    Listed(
        mutations=("sign",),
        keys=(
            "components.*.operating.*",
            "components.*.non_operating.*",
            "components.*.switch_on.*",
            "components.*.band.*",
            "heaters.*.on_below",
            "heaters.*.off_above",
        ),
        reason="a temperature in degC has either sign, while the pair stays in order",
        verdict=("valid", "elsewhere"),
        some=True,
    ),
    Listed(
        mutations=("sign",),
        keys=("schedules.*.time.*",),
        reason="minus zero is zero; any other negative instant is an error",
        some=True,
    ),
    Listed(
        mutations=("sign",),
        keys=("schedules.*.value.*",),
        reason="minus zero is zero, and loads and states may follow negative values",
        some=True,
    ),
    Listed(
        mutations=("duplicate",),
        keys=("links.*.from", "radiation.*.from"),
        reason="a row twice: two alike paths side by side; an entry's key twice is an error",
        some=True,
    ),
    Listed(
        mutations=("sign",),
        keys=("surfaces.*.note",),
        reason="before a quotation mark it takes the cells of the row apart",
        verdict=("elsewhere",),
        some=True,
    ),
    Listed(
        mutations=("wrong unit",),
        keys=("* (head)",),
        reason="reported at the first cells below the head, whose numbers carry its unit",
        verdict=("elsewhere",),
    ),
)
