"""Shares of samples with their intervals, and how a share stands to the tolerance: the statistics of the one answer."""

from __future__ import annotations

from functools import lru_cache

from scipy.special import betaincinv

from planner.app.answer.records import Span, StandingName, Tolerance

TAIL = 0.05
"""What lies beyond each end of a 90 % interval (Clopper & Pearson 1934, Biometrika 26:404)."""


@lru_cache(maxsize=100_000)
def interval(hits: float, samples: int) -> tuple[float, float]:
    """Ends of the 90 % interval of a share, 0 to 1; ``hits`` may be a sum of shares."""
    low = 0.0 if hits <= 0.0 else float(betaincinv(hits, samples - hits + 1.0, TAIL))
    high = 1.0 if hits >= samples else float(betaincinv(hits + 1.0, samples - hits, 1.0 - TAIL))
    return low, high


def span_of(hits: float, samples: int, whole: float = 100.0, digits: int = 1) -> Span:
    """A share of samples as a figure of ``whole`` with its interval."""
    low, high = interval(round(float(hits), 6), samples)
    return Span(*(round(whole * value, digits) for value in (low, hits / samples, high)))


def standing(harm_of_100: Span | None, boxes: Span | None, tolerance: Tolerance, count: int) -> StandingName:
    """Within, open or above: both upper ends at or below the tolerance, neither, a lower end over it.

    ``boxes`` expected to be harmed, of ``count``.
    """
    if harm_of_100 is None or boxes is None:
        return "unknown"
    allowed = tolerance.boxes_of_100 * count / 100.0
    if harm_of_100.high <= tolerance.harm_of_100 and boxes.high <= allowed:
        return "within"
    if harm_of_100.low > tolerance.harm_of_100 or boxes.low > allowed:
        return "above"
    return "open"
