"""Inharmonicity: how a stiff wire sharpens its partials. For plain wire; wound strings behave otherwise."""

from __future__ import annotations

import math

from shopflow.compute.guards import number, whole
from shopflow.compute.strings.limits import measure

# Young's E/rho = 25.5e6 m²/s² at 7850 kg/m³. Property tables give 190 to 207 GPa for music wire and carbon
# steel.
YOUNG_GPA = 200.175


def inharmonicity(
    tension_n: float, length_mm: float, diameter_mm: float, modulus_gpa: float = YOUNG_GPA
) -> float:
    """Tell the inharmonicity B of a plain wire, where partial n sounds at n f0 sqrt(1 + B n²).

    Parameters: `tension_n` to 50,000 N; `length_mm` speaking length, 10 to 10,000 mm; `diameter_mm` 0.05 to
    20 mm; `modulus_gpa` stiffness of the steel, 50 to 500 GPa. Result: B, a plain number.
    Errors: ComputeError for a value outside its span.
    Source: B = pi³ E d⁴/(64 T L²), H. Fletcher, JASA 36 (1964) 203 (from memory); it gives the constant
    printed by R. W. Young, JASA 24 (1952) 267.

    >>> f"{inharmonicity(648.8805, 620, 1.0):.4e}"
    '3.8880e-04'
    """
    modulus_pa = number("modulus_gpa", modulus_gpa, at_least=50, at_most=500, unit="GPa") * 1e9
    d, metres = measure("diameter_mm", diameter_mm) / 1000, measure("length_mm", length_mm) / 1000
    return math.pi**3 * modulus_pa * d**4 / (64 * measure("tension_n", tension_n) * metres**2)


def partial_cents(inharmonicity: float, partial: int) -> float:
    """Tell how many cents sharp a partial lies of n times the ideal (flexible) string's pitch.

    Parameters: `inharmonicity` B, 0 to 1; `partial` n, 1 to 200. Result: cents.
    Errors: ComputeError for a value outside its span.
    Source: 600 log2(1 + B n²), from the same formula as B.

    >>> round(partial_cents(3.888046e-4, 2), 3)
    1.345
    """
    b = number("inharmonicity", inharmonicity, at_least=0, at_most=1)
    return 600 / math.log(2) * math.log1p(b * whole("partial", partial, at_least=1, at_most=200) ** 2)
