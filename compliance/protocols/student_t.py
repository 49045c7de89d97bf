"""Student's t distribution, by the incomplete beta function's continued fraction (Abramowitz and Stegun 26.5.8, 26.7.1,
from memory), and what a leak-detection method's scatter makes of its probabilities.
"""

from functools import cache
from math import copysign, exp, inf, lgamma, log, log1p

import msgspec

TINY = 1e-300
STEPS = 400


class Power(msgspec.Struct, frozen=True, kw_only=True):
    """Probabilities of a method without bias, from its scatter over n tests.

    `t95` is the 95 percent point; `largest_scatter` the scatter at which both probabilities just reach 95 and 5 percent
    with the threshold half way; `detectable` the least leak that the scatter allows. Rates in gal/h.
    """

    t95: float
    false_alarm: float
    detection: float
    largest_scatter: float
    detectable: float


def power(tests: int, threshold: float, leak: float, scatter: float) -> Power:
    """False alarm = P(T > threshold/s), detection = P(T < (leak - threshold)/s), tests - 1 degrees of freedom."""
    freedom = tests - 1
    t95 = quantile(0.95, freedom)
    return Power(
        t95=t95,
        false_alarm=1 - cdf(threshold / scatter, freedom),
        detection=cdf((leak - threshold) / scatter, freedom),
        largest_scatter=leak / 2 / t95,
        detectable=2 * t95 * scatter,
    )


def cdf(t: float, freedom: int) -> float:
    """P(T <= t)."""
    square = t * t
    if square < freedom:  # near zero the other form would take a small number from one
        return 0.5 + copysign(_incomplete_beta(square / (freedom + square), 0.5, freedom / 2) / 2, t)
    tail = _incomplete_beta(freedom / (freedom + square), freedom / 2, 0.5) / 2
    return 1 - tail if t > 0 else tail


@cache
def quantile(probability: float, freedom: int) -> float:
    """The t that is not exceeded with this probability, 0 < probability < 1."""
    if not (0 < probability < 1 and freedom >= 1):
        raise ValueError("a probability lies between 0 and 1, and there is one degree of freedom at least")
    low, high = -1.0, 1.0
    while cdf(low, freedom) > probability:
        low *= 2
    while cdf(high, freedom) < probability:
        high *= 2
    while (middle := (low + high) / 2) not in (low, high):
        if cdf(middle, freedom) < probability:
            low = middle
        else:
            high = middle
    return high


def _incomplete_beta(x: float, a: float, b: float) -> float:
    """The regularised incomplete beta function."""
    if x <= 0 or x >= 1:
        return 0.0 if x <= 0 else 1.0
    if x > (a + 1) / (a + b + 2):
        return 1 - _incomplete_beta(1 - x, b, a)
    front = exp(a * log(x) + b * log1p(-x) - (lgamma(a) + lgamma(b) - lgamma(a + b)))
    return front / a * _fraction(x, a, b)


def _fraction(x: float, a: float, b: float) -> float:
    """The continued fraction, from its front (Lentz's way of summing)."""
    upper, lower = 1.0, 1 / _off_zero(1 - (a + b) * x / (a + 1))
    total, before = lower, inf
    for step in range(1, STEPS):
        if total == before:
            break
        before = total
        even = step * (b - step) * x / ((a + 2 * step - 1) * (a + 2 * step))
        odd = -(a + step) * (a + b + step) * x / ((a + 2 * step) * (a + 2 * step + 1))
        for term in (even, odd):
            lower = 1 / _off_zero(1 + term * lower)
            upper = _off_zero(1 + term / upper)
            total *= lower * upper
    return total


def _off_zero(value: float) -> float:
    return value if abs(value) > TINY else TINY
