"""What every command reads: a model with changes, the cases asked for, and how to solve them."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import Any, get_args, get_type_hints

from thermnet.errors import InputError, Problem, nearest
from thermnet.model.model import Model
from thermnet.model.paths import vary
from thermnet.model.read import load
from thermnet.solve.solution import Options


def loaded(file: str, changes: Sequence[str]) -> Model:
    """A model from its file, with the changes `PATH=VALUE` of the command line.

    Raises InputError for saved results, which hold no more than the cases that were solved.
    """
    if Path(file).suffix == ".nc":
        message = f"{file}: these are saved results; this command needs the model file"
        raise InputError([Problem(message=message)])
    model = load(file)
    return vary(model, parsed(changes)) if changes else model


def parsed(changes: Sequence[str]) -> dict[str, Any]:
    """Changes by path. Raises InputError for one that is no `PATH=VALUE`."""
    from thermnet.text.tree import resolve

    result = {}
    for change in changes:
        path, equals, text = change.partition("=")
        if not equals or not path:
            message = f"expected PATH=VALUE, got '{change}'"
            raise InputError([Problem(message=message)])
        result[path.strip()] = resolve(text.strip())
    return result


def chosen_cases(model: Model, chosen: Sequence[str]) -> tuple[str, ...]:
    """The cases asked for, all of the model by default. Raises InputError for unknown ones."""
    for case in chosen:
        if case not in model.cases and case not in model.paired:
            message = f"unknown case '{case}'{nearest(case, [*model.cases, *model.paired])}"
            raise InputError([Problem(message=message)])
    if not model.cases:
        raise InputError([Problem(message=f"{model.file}: the model has no cases to solve")])
    return model.solved_as(chosen) or model.cases


def solver_options(options: argparse.Namespace) -> Options:
    """Accuracy and method as asked for. Raises InputError for what is neither."""
    known = get_args(get_type_hints(Options)["method"])
    method = options.method or Options().method
    if method not in known:
        raise InputError([Problem(message=f"unknown method '{method}'{nearest(method, known)}")])
    if not 1e-6 <= options.accuracy <= 1.0:
        message = f"--accuracy must be from 1e-6 to 1 K, got {options.accuracy:g}"
        raise InputError([Problem(message=message)])
    return Options(accuracy=options.accuracy, method=method)
