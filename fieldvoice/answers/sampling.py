"""What a count of mites can tell: rates with their interval, and whether a change is real.

Wilson's score interval is what the COLOSS BEEBOOK's chapter on statistics recommends for
infestation. All of these take bees as independent; mites cluster, so the true interval is
wider. Functions return rates per 100 bees.
"""

from __future__ import annotations

from collections.abc import Callable
from math import comb, log, log2, sqrt
from statistics import NormalDist

from fieldvoice.trade.load import trade_file

LEVEL = 0.95


def per_hundred(mites: float, bees: float) -> float:
    """Mites per 100 bees.

    >>> per_hundred(9, 300)
    3.0
    """
    return 100 * mites / bees


def wilson(mites: int, bees: int, level: float = LEVEL) -> tuple[float, float]:
    """Wilson's score interval, per 100 (Wilson 1927).

    >>> [round(bound, 2) for bound in wilson(6, 300)]
    [0.92, 4.29]
    """
    z = NormalDist().inv_cdf(0.5 + level / 2)
    share = mites / bees
    centre = share + z * z / (2 * bees)
    spread = z * sqrt(share * (1 - share) / bees + z * z / (4 * bees * bees))
    scale = 1 + z * z / bees
    return 100 * max(0.0, (centre - spread) / scale), 100 * min(1.0, (centre + spread) / scale)


def exact(mites: int, bees: int, level: float = LEVEL) -> tuple[float, float]:
    """The exact interval of Clopper and Pearson (1934), per 100."""
    tail = (1 - level) / 2
    low = 0.0 if mites == 0 else _share_where(lambda p: 1 - _at_most(mites - 1, bees, p), tail)
    high = 1.0 if mites == bees else _share_where(lambda p: 1 - _at_most(mites, bees, p), 1 - tail)
    return 100 * low, 100 * high


def chance_of_change(first: tuple[int, int], second: tuple[int, int]) -> float:
    """Two-sided p of two washes (mites, bees) with the same true rate.

    Given all mites of both, how they fall on the two jars is binomial by their bees (the
    conditional test of two rates, Przyborowski and Wilenski 1940). As likely or less
    likely outcomes count.

    >>> round(chance_of_change((3, 300), (12, 300)), 3)
    0.035
    """
    total, share = first[0] + second[0], first[1] / (first[1] + second[1])
    chances = [comb(total, k) * share**k * (1 - share) ** (total - k) for k in range(total + 1)]
    limit = chances[first[0]] * (1 + 1e-7)  # outcomes that tie but for rounding count
    return min(1.0, sum(chance for chance in chances if chance <= limit))


def drop(before: tuple[int, int], after: tuple[int, int]) -> tuple[float, float, float] | None:
    """By how many percent a rate fell, with its 95 % interval; None if there was none before.

    The interval is Clopper and Pearson's for the share of the mites in the second jar.
    """
    if before[0] == 0:
        return None
    bees = before[1] / after[1]
    low, high = exact(after[0], before[0] + after[0])

    def fallen(share: float) -> float:
        return 100 * (1 - share / (1 - share) * bees) if share < 1 else float("-inf")

    return fallen(after[0] / (before[0] + after[0])), fallen(high / 100), fallen(low / 100)


def doubling_days() -> float:
    """Days in which untreated mites double while there is brood.

    >>> round(doubling_days(), 1)
    26.8
    """
    growth = trade_file("counts")["growth"]
    return float(growth["days"]) * log(2) / log(1 + growth["percent"] / 100)


def _at_most(k: int, n: int, p: float) -> float:
    """Chance of at most k of n."""
    return sum(comb(n, i) * p**i * (1 - p) ** (n - i) for i in range(k + 1))


def _share_where(rising: Callable[[float], float], level: float) -> float:
    """The share at which a rising function meets a level, by halving."""
    low, high = 0.0, 1.0
    for _ in range(int(-log2(1e-12))):
        middle = (low + high) / 2
        low, high = (middle, high) if rising(middle) < level else (low, middle)
    return (low + high) / 2
