"""The errors and warnings of the package. Every error is a `RegmapError`: a `ValueError`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from regmap.registration import Registration

__all__ = [
    "CutOffWarning",
    "DoubtfulFitError",
    "DoubtfulFitWarning",
    "NoFitError",
    "OutlineError",
    "PictureError",
    "RegmapError",
    "StoredFileError",
]


_HALF = 1200


class RegmapError(ValueError):
    """Anything that the package refuses: what came, what is allowed and what to do."""

    def __str__(self) -> str:
        # Names and paths may be megabytes long: the middle goes, what came and what to do stay.
        text = super().__str__()
        return text if len(text) <= 2 * _HALF else f"{text[:_HALF]} ... {text[-_HALF:]}"


class PictureError(RegmapError):
    """The picture cannot be read, or is of a kind that cannot be used."""


class OutlineError(RegmapError):
    """The outlines cannot be read, or do not describe rooms."""


class StoredFileError(RegmapError):
    """A stored file is damaged, of a newer version, or would be overwritten."""


class NoFitError(RegmapError):
    """No position of the outlines on the picture is worth calling a fit.

    Attributes:
        best: the best registration all the same, for a look at what went wrong; None if none.
        reasons: why nothing fits, and what would help, in words.
    """

    def __init__(self, best: Registration | None = None, reasons: tuple[str, ...] = ()) -> None:
        self.best = best
        self.reasons = tuple(reasons)
        text = "the outlines fit this picture nowhere"
        super().__init__(text + (": " + "; ".join(self.reasons) if self.reasons else ""))

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (self.best, self.reasons)


class DoubtfulFitError(RegmapError):
    """A doubtful fit was about to be used as if it were certain.

    Attributes:
        fit: the registration in question.
    """

    def __init__(self, fit: Registration) -> None:
        self.fit = fit
        why = [f"confidence {fit.confidence:.2f}"]
        # The reasons of a fit that comes straight from `register` say so themselves.
        if fit.alternatives and not any("fit as well" in reason for reason in fit.reasons):
            why.append(f"{len(fit.alternatives)} other position(s) fit as well")
        why.extend(fit.reasons)
        super().__init__(
            "this fit is doubtful (" + "; ".join(why) + "). Look at its proof picture first. "
            "Give tie points or a better picture, or pass accept_doubt=True to use it as it is"
        )

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (self.fit,)


class DoubtfulFitWarning(UserWarning):
    """The registration came back, but it is doubtful: see its `reasons` and `alternatives`."""


class CutOffWarning(UserWarning):
    """The capture ends within an outline, or within the list of rooms: some may be missing."""
