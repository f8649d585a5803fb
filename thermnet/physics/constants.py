"""Physical constants, SI."""

from __future__ import annotations

STEFAN_BOLTZMANN = 5.670374419e-8
"""W m-2 K-4, exact since 2019 (CODATA 2018 and 2022)."""

ZERO_CELSIUS = 273.15
"""K, by definition of the degree Celsius."""

SOLAR_IRRADIANCE = 1361.0
"""W/m2 at 1 au, nominal (International Astronomical Union, Resolution B3 of 2015)."""

ASTRONOMICAL_UNIT = 149597870700.0
"""m, exact (International Astronomical Union, Resolution B2 of 2012)."""
