"""Shares as whole percents for people."""

from __future__ import annotations


def percent(share: float) -> int:
    """A share from 0 to 1 as a whole percent; 100 means all and 0 none, whatever rounding would say."""
    rounded = round(100 * share)
    if rounded == 100 and share < 1:
        return 99
    if rounded == 0 and share > 0:
        return 1
    return rounded
