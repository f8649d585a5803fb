"""What drives a link, and the proportional law of a thermostat, for one number or an array alike.

Written so that a compiler of scalar code takes the same functions as they stand.
"""

from __future__ import annotations

from typing import Any


def power(temperature: Any, exponent: float) -> Any:
    """T to a power: 1 for conduction, 4 for radiation (Stefan and Boltzmann's law)."""
    if exponent == 4.0:
        squared = temperature * temperature
        return squared * squared
    return temperature**exponent


def power_slope(temperature: Any, exponent: float) -> Any:
    """Derivative of `power` by temperature."""
    if exponent == 4.0:
        return 4.0 * temperature * temperature * temperature
    return exponent * temperature ** (exponent - 1.0)


def duty_share(temperature: Any, on: Any, off: Any) -> Any:
    """Duty by the proportional law, before it is limited to 0..1: 1 at `on`, 0 at `off` [K]."""
    return (off - temperature) / (off - on)


def duty_slope(on: Any, off: Any) -> Any:
    """Derivative of `duty_share` by temperature [1/K]."""
    return -1.0 / (off - on)
