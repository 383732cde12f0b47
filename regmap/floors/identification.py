"""`identify`: which of several floors does a picture show?"""

from __future__ import annotations

import dataclasses
import os
import warnings
from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from regmap.errors import DoubtfulFitWarning, NoFitError, RegmapError
from regmap.floors.fitting import Attempt, attempt
from regmap.floors.house import load_house
from regmap.given import callback
from regmap.registration import Registration, fits_nowhere

__all__ = ["Identification", "identify"]


class Identification(NamedTuple):
    """Which floor it is, and the fit on it. `fit.confidence` is that of floor and fit together."""

    name: str
    fit: Registration


def identify(
    image: Any,
    floors: Mapping[str, Any] | str | os.PathLike[str],
    *,
    model: str | None = None,
    mirrored: bool | None = None,
    unit: str | None = None,
    progress: Callable[[int, int], object] | None = None,
) -> Identification:
    """Tell which of several floors a picture shows, and register it.

    Args:
        image: as in `register`.
        floors: name -> outlines (as in `register`), or -> a stored Registration, whose outlines,
            model and unit are taken; or a folder of stored Registrations, as in `load_house`.
        model, mirrored, unit: as in `register`, for all floors; model and unit of a stored
            Registration are its own unless given here.
        progress: called as progress(done, total) after each floor.

    Returns:
        (name, fit). Where another floor fits as well, the confidence is shared between them, and
        Python warns (DoubtfulFitWarning) if little is left.

    Raises:
        NoFitError: if the picture shows none of the floors; `best` holds the nearest miss.
        RegmapError: if no floors were given, and what `register` and `load_house` raise.
    """
    from regmap.inputs.pictures import read_picture

    known = _named(floors) if isinstance(floors, Mapping) else load_house(floors)
    if not known:
        raise RegmapError("no floors were given: at least one name with its outlines is needed")
    callback(progress, "progress")
    picture = read_picture(image)
    given = {"model": model, "unit": unit}
    tried: dict[str, Attempt] = {}
    for name, floor in known.items():
        stored = isinstance(floor, Registration)
        own = {"model": floor.model, "unit": floor.unit} if stored else {}
        own |= {key: value for key, value in given.items() if value is not None}
        outlines = floor.outlines if stored else floor
        tried[name] = attempt(picture, outlines, mirrored=mirrored, **own)
        if progress is not None:
            progress(len(tried), len(known))
    return _pick(tried)


def _named(floors: Mapping[Any, Any]) -> dict[str, Any]:
    """The floors under the texts of their names, each of which is there once."""
    try:
        pairs = [(str(name), floor) for name, floor in floors.items()]
    except Exception as error:  # a mapping of somebody else's may fail in ways of its own
        raise RegmapError(f"the floors cannot be read ({type(error).__name__}: {error})") from error
    known = dict(pairs)
    if len(known) < len(pairs):
        raise RegmapError(f"two of the floors {[name for name, _ in pairs]} have one name: rename")
    return known


def _pick(tried: dict[str, Attempt]) -> Identification:
    """Share the confidence out. Of floors that are named at most one is shown, so that what speaks
    for one speaks against the others: each has the odds c / (1 - c), and "none of them" has 1."""
    odds = {name: one.confidence / (1.0 - one.confidence) for name, one in tried.items()}
    total = 1.0 + sum(odds.values())
    best = max(tried, key=lambda name: odds[name])
    one = tried[best]
    if one.fit is None or one.refused:
        raise NoFitError(*_nearest_miss(tried))
    share = odds[best] / total / max(one.confidence, 1e-12)
    reasons = list(one.fit.reasons)
    for name, rival in sorted(odds.items(), key=lambda entry: -entry[1]):
        if name != best and rival > 0.1 * odds[best]:
            reasons.append(
                f"the outlines of {name!r} fit this picture too (confidence by themselves "
                f"{tried[name].confidence:.2f}, those of {best!r} {one.confidence:.2f})"
            )
    fit = _with_share(one.fit, share, tuple(reasons))
    if fits_nowhere(fit.confidence, (other.confidence for other in fit.alternatives)):
        raise NoFitError(fit, fit.reasons)
    if fit.doubtful:
        why = "; ".join(fit.reasons) or f"confidence {fit.confidence:.2f}"
        warnings.warn(f"doubtful floor {best!r}: {why}", DoubtfulFitWarning, stacklevel=3)
    return Identification(best, fit)


def _with_share(fit: Registration, share: float, reasons: tuple[str, ...]) -> Registration:
    others = tuple(
        dataclasses.replace(other, confidence=min(1.0, other.confidence * share))
        for other in fit.alternatives
    )
    sure = min(1.0, fit.confidence * share)
    return dataclasses.replace(fit, confidence=sure, reasons=reasons, alternatives=others)


def _nearest_miss(tried: dict[str, Attempt]) -> tuple[Registration | None, tuple[str, ...]]:
    """The best Registration of a refusal, and why each floor was refused."""
    fits = {name: one.fit for name, one in tried.items() if one.fit is not None}
    nearest = max(fits, key=lambda name: fits[name].confidence, default=None)
    reasons = tuple(
        f"{name!r}: {'; '.join(one.reasons) or 'it fits nowhere'}" for name, one in tried.items()
    )
    return (fits[nearest] if nearest is not None else None), reasons
