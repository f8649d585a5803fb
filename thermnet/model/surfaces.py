"""All surfaces of a model: exterior surfaces, and radiators, which are surfaces with more."""

from __future__ import annotations

from thermnet.model.kinds.radiator import Radiator
from thermnet.model.kinds.surface import Surface
from thermnet.model.model import Model


def surfaces_of(model: Model) -> dict[str, Surface]:
    """Every surface by name, radiators last. No two bear one name: the reader sees to that."""
    return model.entries(Surface, "surfaces") | model.entries(Radiator, "radiators")


def path_of(model: Model, name: str) -> str:
    """The path of a surface or radiator."""
    return f"{'radiators' if name in model.sections['radiators'] else 'surfaces'}.{name}"
