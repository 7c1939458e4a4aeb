"""Shares with Wilson intervals, medians with seeded bootstrap intervals, and a table."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import sqrt
from statistics import fmean, median

from world import roll

Z = 1.959964  # 95 %


def quantile(values: Sequence[float], share: float) -> float:
    """The value below which `share` of them lie, straight between ranks.

    >>> quantile([1.0, 2.0, 3.0], 0.25)
    1.5
    """
    ranked = sorted(values)
    place = share * (len(ranked) - 1)
    low = int(place)
    high = min(low + 1, len(ranked) - 1)
    return ranked[low] + (place - low) * (ranked[high] - ranked[low])


def wilson(hits: int, of: int) -> tuple[float, float]:
    """95 % interval of a share: Wilson (1927), J. Am. Stat. Assoc. 22, 209.

    >>> [round(x, 3) for x in wilson(95, 100)]
    [0.888, 0.978]
    """
    if of == 0:
        return 0.0, 1.0
    p = hits / of
    middle = p + Z * Z / (2 * of)
    spread = Z * sqrt(p * (1 - p) / of + Z * Z / (4 * of * of))
    return max(0.0, (middle - spread) / (1 + Z * Z / of)), min(1.0, (middle + spread) / (1 + Z * Z / of))


def poisson(events: int) -> tuple[float, float]:
    """95 % interval of a count, Wilson and Hilferty's approximation of the exact one.

    >>> [round(x, 1) for x in poisson(0)], [round(x, 1) for x in poisson(5)]
    ([0.0, 3.7], [1.6, 11.7])
    """
    low = 0.0 if events == 0 else events * (1 - 1 / (9 * events) - Z / (3 * sqrt(events))) ** 3
    more = events + 1
    return low, more * (1 - 1 / (9 * more) + Z / (3 * sqrt(more))) ** 3


def share(hits: int, of: int) -> str:
    """A share in per cent with its interval."""
    if of == 0:
        return "-"
    low, high = wilson(hits, of)
    return f"{100 * hits / of:.0f} % ({100 * low:.0f}-{100 * high:.0f})"


def bootstrap(values: Sequence[float], figure: Callable[[Sequence[float]], float] = median) -> tuple[float, float]:
    """95 % interval of a figure, 1000 resamples, always the same ones."""
    dice = roll("bootstrap", len(values))
    drawn = sorted(figure(dice.choices(values, k=len(values))) for _ in range(1000))
    return drawn[25], drawn[974]


def middle(values: Sequence[float], digits: int = 1, figure: Callable[[Sequence[float]], float] = median) -> str:
    """A median (or another figure) with its interval."""
    if not values:
        return "-"
    low, high = bootstrap(values, figure)
    return f"{figure(values):.{digits}f} ({low:.{digits}f}-{high:.{digits}f})"


def mean(values: Sequence[float], digits: int = 3) -> str:
    """A mean, or a dash."""
    return f"{fmean(values):.{digits}f}" if values else "-"


def table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """A Markdown table, padded."""
    wide = [max(len(str(row[i])) for row in [heads, *rows]) for i in range(len(heads))]

    def line(cells: Sequence[str]) -> str:
        return "| " + " | ".join(str(cell).ljust(w) for cell, w in zip(cells, wide, strict=True)) + " |"

    return "\n".join([line(heads), "|" + "|".join("-" * (w + 2) for w in wide) + "|", *map(line, rows)])
