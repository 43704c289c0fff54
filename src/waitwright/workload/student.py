"""Quantiles of Student's t distribution, from the regularised incomplete beta function.

M. Abramowitz and I. A. Stegun, "Handbook of Mathematical Functions" (1964): the beta function's
continued fraction 26.5.8, its symmetry 26.5.2, and the t distribution in its terms, 26.7.1.
"""

from __future__ import annotations

from math import exp, isfinite, lgamma, log, log1p, sqrt

_TERMS = 500
_TINY = 1e-300
_HALVINGS = 400


def student_quantile(probability: float, degrees: float) -> float:
    """The t with P(T <= t) = *probability*, for *degrees* of freedom.

    Raises:
        ValueError: if the probability is not strictly between 0 and 1, or the degrees are not above 0.
    """
    if not (0.0 < probability < 1.0 and isfinite(degrees) and degrees > 0.0):
        raise ValueError(f"no t quantile for probability {probability} and {degrees} degrees of freedom")
    if probability > 0.5:
        return -student_quantile(1.0 - probability, degrees)
    # P(T <= -t) is half the beta function at degrees / (degrees + t^2), which rises from 0 to 1.
    low, high = 0.0, 1.0
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        if middle in {low, high}:
            break
        if 0.5 * incomplete_beta(middle, 0.5 * degrees, 0.5) < probability:
            low = middle
        else:
            high = middle
    return -sqrt(degrees * (1.0 - high) / high)


def incomplete_beta(x: float, a: float, b: float) -> float:
    """The regularised incomplete beta function I_x(a, b), for 0 <= x <= 1 and a, b above 0."""
    if x <= 0.0 or x >= 1.0:
        return min(max(x, 0.0), 1.0)
    # The fraction closes in fast on this side of the mean only.
    if x > (a + 1.0) / (a + b + 2.0):
        return 1.0 - incomplete_beta(1.0 - x, b, a)
    front = exp(a * log(x) + b * log1p(-x) + lgamma(a + b) - lgamma(a) - lgamma(b)) / a
    return front / _fraction(x, a, b)


def _fraction(x: float, a: float, b: float) -> float:
    """1 + d1/(1 + d2/(1 + ...)), evaluated forwards (Lentz's method)."""
    value, above, below = 1.0, 1.0, 0.0
    for term in range(1, _TERMS):
        m, odd = divmod(term, 2)
        if odd:
            step = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        else:
            step = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        below = 1.0 / _not_zero(1.0 + step * below)
        above = _not_zero(1.0 + step / above)
        value *= above * below
        if abs(above * below - 1.0) < 1e-16:
            break
    return value


def _not_zero(number: float) -> float:
    return number if abs(number) > _TINY else _TINY
