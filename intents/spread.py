"""Work of several seconds spread over the cores, with the same result as on one."""

from __future__ import annotations

import multiprocessing
import os
import threading
from collections.abc import Callable, Sequence
from typing import Any, TypeVar

Item = TypeVar("Item")
Result = TypeVar("Result")

WORTH_IT = 2000
"""Fewer items than this are done before the processes would have begun."""

_work: Callable[[Any], Any] | None = None


def each(work: Callable[[Item], Result], items: Sequence[Item]) -> list[Result]:
    """``work`` of each of ``items``, in their order; it must depend on nothing else that changes.

    The processes are forked, so that nothing that ``work`` reads is copied. Where that can't be done safely (no fork,
    one core, other threads) it is done here.
    """
    global _work
    cores = os.cpu_count() or 1
    forks = "fork" in multiprocessing.get_all_start_methods()
    if len(items) < WORTH_IT or cores < 2 or not forks or threading.active_count() > 1:
        return [work(item) for item in items]
    _work = work
    try:
        with multiprocessing.get_context("fork").Pool(min(cores, 4)) as pool:
            return pool.map(_done, items, chunksize=-(-len(items) // (cores * 4)))
    finally:
        _work = None


def _done(item: Any) -> Any:
    if _work is None:
        raise RuntimeError("forked before there was work")
    return _work(item)
