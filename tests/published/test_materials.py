"""Materials of the library against published values.

The fits of the cryogenic material properties of NIST are known from transcriptions. Their values
were evaluated from the printed coefficients, outside of this package; the last printed digit is the
tolerance, with the 0.05 % that a curve may lie beside its fit.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.published.record import Record
from tests.small_models import solved
from thermnet.model.kinds.material import material

AT = (20, 77, 100, 150, 200, 250, 300)

CONDUCTIVITY = {
    "aluminium 1100": "282.6 290.2 249.7 219.8 215.5 213.5 211.8",
    "aluminium 3003-F": "59.37 139.3 147.4 157.2 165.5 172.9 177.8",
    "aluminium 5083-O": "17.21 55.28 66.26 85.12 99.24 110.3 119.3",
    "aluminium 6061-T6": "28.428 83.531 97.701 120.363 136.025 147.243 155.319",
    "aluminium 6063-T5": "175.4 239.6 213.8 195.7 198.6 202.2 -",
    "stainless steel 304": "2.169 7.921 9.224 11.165 12.633 13.981 15.309",
    "stainless steel 316": "2.169 7.921 9.224 11.165 12.633 13.981 15.309",
    "stainless steel 310": "1.739 5.999 6.917 8.329 9.473 10.56 11.63",
    "titanium 6Al-4V": "0.8426 3.471 3.804 4.622 5.750 6.593 7.555",
    "titanium 15V-3Cr-3Sn-3Al": "0.4559 1.814 2.300 3.233 4.133 5.077 6.041",
    "nickel superalloy 718": "2.956 6.432 7.119 8.121 8.720 9.199 -",
    "iron with 36 % nickel": "1.652 6.189 7.611 10.11 11.92 13.12 13.83",
    "steel with 9 % nickel": "3.521 12.79 15.81 20.95 24.46 26.67 27.83",
    "molybdenum": "286.9 214.9 174.5 145.4 141.4 140.7 138.6",
    "lead": "56.95 37.17 36.23 36.00 35.46 34.72 -",
    "oxygen-free copper of resistance ratio 50": "1368 515.1 443.9 408.4 400.1 395.7 392.4",
    "oxygen-free copper of resistance ratio 100": "2423 547.2 461.5 418.1 407.0 400.9 396.3",
    "glass-epoxy laminate, through it": "0.1564 0.2800 0.3096 0.3737 0.4447 0.5233 0.6080",
    "glass-epoxy laminate, along the warp": "0.1982 0.3858 0.4477 0.5677 0.6741 0.7721 0.8636",
    "polyimide film": "0.04782 0.1255 0.1419 0.1631 0.1749 0.1837 0.1919",
    "polytetrafluoroethylene": "0.1422 0.2324 0.2434 0.2586 0.2672 0.2711 0.2728",
    "polyamide": "0.09811 0.2933 0.3179 0.3389 0.3431 0.3413 0.3368",
    "polyester, cold": "0.07349 0.1559 - - - - -",
    "beryllium copper, cold": "10.66 36.29 - - - - -",
    "brass with 30 % zinc, cold": "12.33 39.80 47.45 - - - -",
    "polyurethane foam with helium": "0.01064 0.01652 0.01900 0.02445 0.02964 0.03362 0.03540",
    "polystyrene foam": "0.00939 0.01219 0.01378 0.01796 0.02309 0.03007 0.04112",
}
FIT_6061 = (46.6467, -314.292, 866.662, -1298.3, 1162.27, -637.795, 210.351, -38.3094, 2.96344)
"""Specific heat of aluminium 6061-T6: second-hand, a fit of NIST."""

SPECIFIC_HEAT = {
    "aluminium 6061-T6": "8.85 348.13 492.20 713.03 835.24 895.04 953.86",
    "stainless steel 304": "13.45 204.49 275.50 362.09 416.43 457.92 469.45",
    "stainless steel 316": "13.61 204.6 273.0 366.7 424.8 461.0 490.2",
    "oxygen-free copper of resistance ratio 50": "7.506 195.9 255.3 324.1 359.0 380.6 389.4",
    "glass-epoxy laminate, through it": "47.17 239.4 316.9 489.3 664.4 836.3 998.7",
    "polyimide film": "57.92 338.2 413.7 537.0 626.8 696.7 754.5",
    "polytetrafluoroethylene": "76.79 301.1 384.6 564.1 738.9 899.9 1032",
}


def records(name: str, printed: str, what: str, unit: str) -> list[Record]:
    """A record for each printed value of one property of a material."""
    found = []
    for temperature, cell in zip(AT, printed.split(), strict=True):
        if cell == "-":
            continue
        digits = len(cell.partition(".")[2])
        record = Record(
            what=f"{what} of {name} at {temperature} K",
            inputs={"temperature": float(temperature)},
            value=float(cell),
            unit=unit,
            tolerance=0.6 * 10.0**-digits + 5e-4 * float(cell),
            source="cryogenic material properties, NIST, evaluated from transcribed coefficients",
            known="second-hand",
        )
        found.append(record)
    return found


@pytest.mark.parametrize("name", CONDUCTIVITY)
def test_conductivity_over_temperature(name: str) -> None:
    curve = material(name, {}).conductivity_curve
    assert curve is not None
    for record in records(name, CONDUCTIVITY[name], "conductivity", "W/m/K"):
        record.check(float(curve.value(np.array([record.inputs["temperature"]]))[0]))


@pytest.mark.parametrize("name", SPECIFIC_HEAT)
def test_specific_heat_over_temperature(name: str) -> None:
    curve = material(name, {}).specific_heat_curve
    assert curve is not None
    for record in records(name, SPECIFIC_HEAT[name], "specific heat", "J/kg/K"):
        record.check(float(curve.value(np.array([record.inputs["temperature"]]))[0]))


TABLE_A1 = "Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, table A.1"


@pytest.mark.parametrize(
    ("name", "conductivity", "specific_heat"),
    [
        ("aluminium", 240.0, 949.0),
        ("copper", 393.0, 397.0),
        ("titanium", 20.4, 551.0),
        ("silicon", 98.9, 790.0),
        ("silver", 425.0, 239.0),
        ("nickel", 80.2, 485.0),
    ],
)
def test_pure_elements_at_400_kelvin(name: str, conductivity: float, specific_heat: float) -> None:
    facts, at = material(name, {}), np.array([400.0])
    for what, curve, value, unit in (
        ("conductivity", facts.conductivity_curve, conductivity, "W/m/K"),
        ("specific heat", facts.specific_heat_curve, specific_heat, "J/kg/K"),
    ):
        assert curve is not None
        Record(
            what=f"{what} of {name} at 400 K",
            inputs={"temperature": 400.0},
            value=value,
            unit=unit,
            tolerance=1e-9,
            source=TABLE_A1,
            known="read",
        ).check(float(curve.value(at)[0]))


@pytest.mark.parametrize(
    ("name", "what", "value", "tolerance"),
    [
        ("silicon", "conductivity", 409.0, 0.05),
        ("aluminium", "conductivity", 248.0, 0.02),
        ("nickel", "conductivity", 121.0, 0.05),
        ("aluminium", "specific_heat", 683.0, 0.02),
        ("titanium", "specific_heat", 405.0, 0.02),
        ("magnesium", "specific_heat", 842.0, 0.02),
    ],
)
def test_pure_elements_between_the_points_of_their_table(
    name: str, what: str, value: float, tolerance: float
) -> None:
    """At 150 K, where the table has 100 and 200 K: a straight line misses each by 6 to 40 %."""
    curve = getattr(material(name, {}), f"{what}_curve")
    Record(
        what=f"{what} of {name} at 150 K",
        inputs={"temperature": 150.0},
        value=value,
        unit="W/m/K" if what == "conductivity" else "J/kg/K",
        tolerance=tolerance * value,
        source="recommended values of pure elements in handbooks",
        known="from memory",
    ).check(float(curve.value(np.array([150.0]))[0]))


def test_strut_between_4_and_300_kelvin_conducts_the_integral_of_its_fit() -> None:
    # Kirchhoff's transform; the integral of the printed fit of steel 304 by an adaptive quadrature.
    from scipy.integrate import quad

    a = (-1.4087, 1.3982, 0.2543, -0.6260, 0.2334, 0.4256, -0.4658, 0.1650, -0.0199)

    def fit(temperature: float) -> float:
        return float(10.0 ** sum(c * np.log10(temperature) ** k for k, c in enumerate(a)))

    value, _ = quad(fit, 4.0, 300.0, epsrel=1e-10)
    curve = material("stainless steel 304", {}).conductivity_curve
    assert curve is not None
    found = float(np.diff(curve.integral(np.array([4.0, 300.0])))[0])
    Record(
        what="integral of the conductivity of steel 304 from 4 to 300 K",
        inputs={"from": 4.0, "to": 300.0},
        value=value,
        unit="W/m",
        tolerance=1e-3 * value,
        source="cryogenic material properties, NIST, integrated from transcribed coefficients",
        known="second-hand",
    ).check(found)
    at_the_mean = fit(152.0) * 296.0
    assert abs(at_the_mean / found - 1.0) > 0.05


def test_steel_between_4_and_300_kelvin_against_tables_of_conductivity_integrals() -> None:
    curve = material("stainless steel 304", {}).conductivity_curve
    assert curve is not None
    Record(
        what="integral of the conductivity of stainless steel from 4 to 300 K",
        inputs={"from": 4.0, "to": 300.0},
        value=3060.0,
        unit="W/m",
        tolerance=0.02 * 3060.0,
        source="tables of conductivity integrals in handbooks of cryogenics, mean of the grades "
        "303, 304, 316 and 347",
        known="from memory",
    ).check(float(np.diff(curve.integral(np.array([4.0, 300.0])))[0]))


COOLING = """
thermnet: 1
temperatures: degC
nodes:
  lump: {material: MATERIAL, mass: 1 kg, by_temperature: true, initial: 20}
boundaries:
  space: {temperature: 0 K}
surfaces:
  skin: {node: lump, area: 0.05 m^2, emittance: 0.8, to: space}
cases:
  case: {solve: transient, duration: 4320 s, initial: given}
"""


@pytest.mark.parametrize("name", ["aluminium 6061-T6", "aluminium", "silicon"])
def test_a_lump_cools_as_the_integral_of_its_specific_heat_says(name: str) -> None:
    """Radiation to 0 K: m c dT / (e sigma A T^4) from the end to the start is the time that passes.

    The specific heat of 6061-T6 is the printed fit, those of the others the curves of the library.
    """
    from scipy.integrate import quad
    from scipy.optimize import brentq

    curve = material(name, {}).specific_heat_curve
    assert curve is not None

    def specific_heat(temperature: float) -> float:
        if name == "aluminium 6061-T6":
            exponent = sum(c * np.log10(temperature) ** k for k, c in enumerate(FIT_6061))
            return float(10.0**exponent)
        return float(curve.value(np.array([temperature]))[0])

    def passes(end: float) -> float:
        strength = 0.8 * 5.670374419e-8 * 0.05
        return float(
            quad(lambda t: specific_heat(t) / (strength * t**4), end, 293.15, limit=500)[0]
        )

    end = brentq(lambda each: passes(each) - 4320.0, 200.0, 293.0, xtol=1e-6)
    result = solved(COOLING.replace("MATERIAL", name), "case")
    Record(
        what=f"temperature of 1 kg of {name} after 72 minutes",
        inputs={},
        value=end,
        unit="K",
        tolerance=0.015,  # 0.005 K for the pieces of the heat content, 0.01 K for the solver
        source="energy balance of one lump, by quadrature",
        known="derived: independent solver",
    ).check(float(result.solution.extremes.lowest.min(axis=0)[0]))
