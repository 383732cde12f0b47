"""Where the time goes: seconds by stage, kept only where somebody asks, and told to the log."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from time import perf_counter

__all__ = ["stage_times", "stopwatch"]

log = logging.getLogger(__name__)

_TIMES: ContextVar[dict[str, float] | None] = ContextVar("regmap_stage_times", default=None)


@contextmanager
def stage_times() -> Iterator[dict[str, float]]:
    """Collects the seconds that each stage of `register` takes within the block, by its name.

    Registrations in other threads are not counted.
    """
    times: dict[str, float] = {}
    token = _TIMES.set(times)
    try:
        yield times
    finally:
        _TIMES.reset(token)


def stopwatch(on_stage: Callable[[str], object] | None = None) -> Callable[[str], None]:
    """A function that books the time since its last call under a stage's name, and tells it.

    Logged at DEBUG, where a program that wants to know what takes so long finds it.
    """
    times = _TIMES.get()
    last = perf_counter()

    def book(stage: str) -> None:
        nonlocal last
        now = perf_counter()
        if times is not None:
            times[stage] = times.get(stage, 0.0) + now - last
        log.debug("%s: %.3f s", stage, now - last)
        if on_stage is not None:
            on_stage(stage)
        last = perf_counter()

    return book
