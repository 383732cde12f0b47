"""One fit, whatever becomes of it, for those who try several."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from regmap.errors import NoFitError
from regmap.registration import Registration

__all__ = ["Attempt", "attempt", "quietly"]


@dataclass(frozen=True, eq=False)
class Attempt:
    """`fit`: the Registration, that of a refusal too, if there is one; `reasons`: why not surer."""

    fit: Registration | None
    refused: bool
    reasons: tuple[str, ...]

    @property
    def confidence(self) -> float:
        """That the fit is right at one of the positions it names: twins count together."""
        if self.fit is None or self.refused:
            return 0.0
        return min(0.99, self.fit.confidence + sum(o.confidence for o in self.fit.alternatives))


def attempt(image: Any, outlines: Any, **options: Any) -> Attempt:
    """Call `register`; a refusal is an answer, and doubt is said by the caller."""
    try:
        fit = quietly(image, outlines, options)
    except NoFitError as error:
        return Attempt(error.best, True, error.reasons)
    return Attempt(fit, False, fit.reasons)


def quietly(image: Any, outlines: Any, options: Mapping[str, Any]) -> Registration:
    """Call `register` without its warning of doubt, for the result says it."""
    # Here, so that what needs no picture, such as align_outlines, loads no OpenCV.
    from regmap.register import quietly as fit_quietly

    return fit_quietly(image, outlines, **options)
