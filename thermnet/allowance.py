"""The uncertainty allowance between calculated and predicted temperatures, by policy."""

from __future__ import annotations

from typing import Literal

from thermnet.model.kinds.settings import PUBLISHED, Uncertainty
from thermnet.physics.constants import ZERO_CELSIUS

COLD_HARDWARE = (
    (-70.0, 11.0), (-87.0, 10.0), (-105.0, 9.0), (-123.0, 8.0), (-141.0, 7.0), (-159.0, 6.0),
    (-177.0, 5.0), (-195.0, 4.0), (-213.0, 3.0), (-232.0, 2.0), (-ZERO_CELSIUS, 1.0),
)  # fmt: skip
"""(predicted temperature down to [degC], allowance [K]) for passive hardware: SMC-S-016
(5 September 2014) Table 4.4-2, read in the standard."""


def allowance(
    policy: Uncertainty, own: float | None, calculated: float, side: Literal["hot", "cold"]
) -> float:
    """Uncertainty allowance [K]: the component's own, or by policy.

    SMC-S-016 gives 17 degC where the unit is not balance tested (4.4.2.1); else 11 degC, and less
    for cold hardware by its predicted temperature (Table 4.4-2): the largest that is consistent.
    """
    if own is not None:
        return own
    if policy.policy == "none":
        return 0.0
    if policy.policy == "flat":
        return policy.allowance or 0.0
    tested, untested = PUBLISHED[policy.policy]
    if not policy.balance_tested:
        return untested
    sign = 1.0 if side == "hot" else -1.0
    for down_to, value in COLD_HARDWARE:
        if calculated + sign * value >= down_to + ZERO_CELSIUS:
            return min(value, tested)
    return COLD_HARDWARE[-1][1]
