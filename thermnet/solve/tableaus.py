"""Coefficients of Rosenbrock methods.

Source: E. Hairer, G. Wanner, Solving Ordinary Differential Equations II, 2nd ed., Springer 1996,
section IV.7, which also has the form without products by the Jacobian.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermnet.network.primitives import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Tableau:
    """Coefficients of a stiffly accurate Rosenbrock method with s stages.

    Stage i solves (C / (h diagonal) - J) U_i = q(T + sum_j stage_ij U_j, t + instant_i h)
    + C / h sum_j mix_ij U_j + h slope_i dq/dt. The step ends at T + weight . U; error . U is what
    the embedded method of one order less says otherwise. Between, at share x of the step, lies
    (1 - x) T_0 + x (T_1 + (1 - x) (dense_0 . U + x dense_1 . U)), of order 3; without `dense` the
    cubic with the slopes at both ends, where there is capacity, takes its place.
    """

    diagonal: float
    stage: Floats
    mix: Floats
    instant: Floats
    slope: Floats
    weight: Floats
    error: Floats
    dense: Floats | None
    order: int


def _lower(*rows: tuple[float, ...]) -> Floats:
    """Strictly lower triangular matrix from its rows, the empty first one left out."""
    result = np.zeros((len(rows) + 1, len(rows) + 1))
    for k, row in enumerate(rows, start=1):
        result[k, :k] = row
    return result


RODAS4 = Tableau(
    diagonal=0.25,
    stage=_lower(
        (1.544,),
        (0.9466785280815826, 0.2557011698983284),
        (3.314825187068521, 2.896124015972201, 0.9986419139977817),
        (1.221224509226641, 6.019134481288629, 12.53708332932087, -0.6878860361058950),
        (1.221224509226641, 6.019134481288629, 12.53708332932087, -0.6878860361058950, 1.0),
    ),
    mix=_lower(
        (-5.6688,),
        (-2.430093356833875, -0.2063599157091915),
        (-0.1073529058151375, -9.594562251023355, -20.47028614809616),
        (7.496443313967647, -10.24680431464352, -33.99990352819905, 11.70890893206160),
        (
            8.083246795921522,
            -7.981132988064893,
            -31.52159432874371,
            16.31930543123136,
            -6.058818238834054,
        ),
    ),
    instant=np.array([0.0, 0.386, 0.21, 0.63, 1.0, 1.0]),
    slope=np.array([0.25, -0.1043, 0.1035, -0.0362, 0.0, 0.0]),
    weight=np.array(
        [1.221224509226641, 6.019134481288629, 12.53708332932087, -0.6878860361058950, 1.0, 1.0]
    ),
    error=np.array([0.0, 0.0, 0.0, 0.0, 0.0, 1.0]),
    dense=np.array(
        [
            [
                10.12623508344586,
                -7.487995877610167,
                -34.80091861555747,
                -7.992771707568823,
                1.025137723295662,
                0.0,
            ],
            [
                -0.6762803392801253,
                6.087714651680015,
                16.43084320892478,
                24.76722511418386,
                -6.594389125716872,
                0.0,
            ],
        ]
    ),
    order=4,
)
"""Order 4, embedded order 3, exact Jacobian: the method of the code RODAS in the book above.

Digits from memory; the tests find that every order condition holds to 14 digits, which no
mistaken digit would leave standing.
"""


def _transformed(
    *, stage: Floats, inner: Floats, weight: Floats, other: Floats, order: int
) -> Tableau:
    """A method in the form without products by the Jacobian.

    Given are the sums over earlier stages of arguments (`stage`) and of Jacobian terms (`inner`,
    with its diagonal), the weights and those of the embedded method (`other`).
    """
    inverse = np.linalg.inv(inner)
    diagonal = float(inner[0, 0])
    return Tableau(
        diagonal=diagonal,
        stage=stage @ inverse,
        mix=np.diag(np.diag(inverse)) - inverse,
        instant=stage.sum(axis=1),
        slope=inner.sum(axis=1),
        weight=weight @ inverse,
        error=(weight - other) @ inverse,
        dense=None,
        order=order,
    )


def _ros34pw2() -> Tableau:
    diagonal = 4.3586652150845900e-01
    return _transformed(
        stage=_lower(
            (8.7173304301691801e-01,),
            (8.4457060015369423e-01, -1.1299064236484185e-01),
            (0.0, 0.0, 1.0),
        ),
        inner=diagonal * np.eye(4)
        + _lower(
            (-8.7173304301691801e-01,),
            (-9.0338057013044082e-01, 5.4180672388095326e-02),
            (2.4212380706095346e-01, -1.2232505839045147e00, 5.4526025533510214e-01),
        ),
        weight=np.array(
            [2.4212380706095346e-01, -1.2232505839045147e00, 1.5452602553351020e00, diagonal]
        ),
        other=np.array(
            [
                3.7810903145819369e-01,
                -9.6042292212423178e-02,
                0.5,
                2.1793326075422950e-01,
            ]
        ),
        order=3,
    )


ROS34PW2 = _ros34pw2()
"""Order 3 with any Jacobian, embedded order 2, stiffly accurate and L-stable; index 1 with the
exact Jacobian of the massless rows. J. Rang, L. Angermann, BIT Numer. Math. 45 (2005) 761.

Digits from memory; the tests find that every order condition holds.
"""
