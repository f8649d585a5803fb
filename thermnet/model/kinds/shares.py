"""Heat on one node, or shared over several."""

from __future__ import annotations

from typing import Annotated

from thermnet.text.fields import fault, name_of, number

Shares = dict[Annotated[str, name_of("nodes")], Annotated[float, number(above=0, at_most=1)]]
"""Shares by the name of a node; in all 1."""


def shares_of(node: str | None, shares: Shares) -> dict[str, float]:
    """The nodes with their shares, in all 1. Raises a fault for what is not."""
    if node is not None and shares:
        raise fault("shares", "one node or shares over several, not both: drop one of the two")
    if node is not None:
        return {node: 1.0}
    if not shares:
        raise fault("node", "missing key 'node': give it, or 'shares' over several")
    total = sum(shares.values())
    if abs(total - 1.0) > 1e-6:
        raise fault("shares", f"the shares sum to {total:g}, not to 1")
    return dict(shares)
