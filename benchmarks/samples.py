"""Runs regmap and the other pipelines on made floors and measures each answer against its truth."""

from __future__ import annotations

import multiprocessing
import sys
import time
import warnings
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from typing import Any, Protocol, TypeVar

import click
import cv2
import numpy as np
from numpy.typing import NDArray

from benchmarks import pipelines
from benchmarks.scores import rms
from benchmarks.settings import Settings
from regmap import frames, synthetic
from regmap.errors import NoFitError, RegmapError
from regmap.register import register
from regmap.registration import SURE, Registration

__all__ = [
    "BENT_SHARE",
    "REGMAP",
    "SURE",
    "TOLERANCE_PX",
    "Attempt",
    "Outcome",
    "Runs",
    "attempt",
    "by_family",
    "measure",
    "measure_sample",
    "misplacement_px",
    "one_thread",
    "spread_out",
    "summary",
]

TOLERANCE_PX = 2.0
"""A fit is right if its RMS error over the visible floor is at most this."""

BENT_SHARE = 0.03
"""Of the floor's diagonal: the tolerance where no similarity is exact, on a bent map."""


class _OfFamily(Protocol):
    @property
    def family(self) -> str: ...


Result = TypeVar("Result")
Kin = TypeVar("Kin", bound=_OfFamily)

REGMAP = "regmap"
NAN = float("nan")


@dataclass(frozen=True)
class Outcome:
    """One answer to one picture, in plain numbers; what does not apply is nan.

    Attributes:
        answer: what is to be found: "fits", "twins" (several positions fit as well) or "stranger".
        turn_deg: direction of the picture's columns in the device frame.
        tolerance_px: the answer is right if `error_px` is at most this.
        seconds: wall time of the one call.
        refused: an error of the RegmapError family was raised.
        crash: any other exception; such an answer counts as wrong.
        confidence: as said; 0 for a refusal, nan for the other pipelines.
        error_px: RMS over the visible check points of where the found map puts their true device
            positions, less where they are. For a refusal that of the best fit, if there is one.
        bias_px: mean of the same differences, (column, row).
        others_px: `error_px` of the alternatives; others_confidence: what they say.
        covered: share of the check points whose true error in device units is below
            `expected_error`; expected: median of that prediction; apart: median of the true error.
        tied_px: error with one tie point given, known to 2 px (twins alone); tied_confidence.
    """

    family: str
    seed: int
    method: str
    answer: str
    model: str
    mirrored: bool
    rooms: int
    megapixels: float
    turn_deg: float
    tolerance_px: float
    seconds: float = NAN
    refused: bool = False
    crash: str = ""
    confidence: float = NAN
    error_px: float = NAN
    bias_px: tuple[float, float] = (NAN, NAN)
    others_px: tuple[float, ...] = ()
    others_confidence: tuple[float, ...] = ()
    covered: float = NAN
    expected: float = NAN
    apart: float = NAN
    wall_offset: float = NAN
    tied_px: float = NAN
    tied_confidence: float = NAN
    reasons: tuple[str, ...] = ()

    @property
    def right(self) -> bool:
        """The position is the true one, whatever was said of it."""
        return self.answer != "stranger" and not self.crash and self.error_px <= self.tolerance_px

    @property
    def sure(self) -> bool:
        """It was handed over as safe to use."""
        return not self.refused and not self.crash and self.confidence >= SURE

    @property
    def wrong_and_sure(self) -> bool:
        """The one thing that must not happen. For twins, being sure of either is wrong."""
        return self.sure and (not self.right or self.answer == "twins")

    @property
    def told(self) -> bool:
        """The true position is the answer or among its alternatives."""
        return any(error <= self.tolerance_px for error in (self.error_px, *self.others_px))

    @property
    def tied(self) -> bool:
        """One tie point made it right and sure."""
        return self.tied_px <= self.tolerance_px and self.tied_confidence >= SURE


@dataclass(frozen=True, eq=False)
class Attempt:
    """What became of one call of `register`: `fit` is the best one of a refusal, too."""

    fit: Registration | None
    refused: bool
    crash: str
    reasons: tuple[str, ...]
    seconds: float

    @property
    def confidence(self) -> float:
        """As said; a refusal says 0."""
        return 0.0 if self.fit is None or self.refused else self.fit.confidence


def attempt(image: Any, outlines: Any, **options: Any) -> Attempt:
    """Call `register`, and keep whatever comes: a fit, a refusal, a crash."""
    fit: Registration | None = None
    refused, crash = False, ""
    reasons: tuple[str, ...] = ()
    began = time.perf_counter()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            fit = register(image, outlines, **options)
            reasons = fit.reasons
        except NoFitError as error:
            fit, refused, reasons = error.best, True, error.reasons
        except RegmapError as error:
            refused, reasons = True, (str(error),)
        except Exception as error:  # whatever breaks is a finding, and must not end the run
            crash = f"{type(error).__name__}: {error}"
    return Attempt(fit, refused, crash, tuple(reasons), time.perf_counter() - began)


def misplacement_px(
    found: frames.Map, truth: frames.Map, visible_px: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return where `found` puts the true device positions of picture points, less where they are.

    Both maps go from picture to device; points and result are (K, 2) px.
    """
    device = frames.apply(truth, visible_px)
    return frames.apply(frames.invert(found), device) - visible_px


def measure(method: str, family: str, seed: int) -> Outcome:
    """Make a sample, run one method on it, and compare."""
    return measure_sample(synthetic.sample(family, seed), method, seed)


def measure_sample(sample: synthetic.Sample, method: str, seed: int) -> Outcome:
    """Run one method on a sample that is already made."""
    found = _by_regmap(sample, seed) if method == REGMAP else _by_pipeline(sample, method)
    return Outcome(
        family=sample.family,
        seed=seed,
        method=method,
        answer=sample.answer,
        model=sample.model,
        mirrored=sample.mirrored,
        rooms=len(sample.outlines),
        megapixels=sample.image.shape[0] * sample.image.shape[1] / 1e6,
        turn_deg=frames.rotation_of(sample.image_to_device),
        tolerance_px=_tolerance_px(sample),
        **found,
    )


def _tolerance_px(sample: synthetic.Sample) -> float:
    if not sample.truth_quality_mm:
        return TOLERANCE_PX
    corners = np.vstack([ring for rings in sample.outlines.values() for ring in rings])
    diagonal = float(np.hypot(*np.ptp(corners, axis=0)))
    return max(TOLERANCE_PX, BENT_SHARE * diagonal / frames.scale_of(sample.image_to_device))


def _by_pipeline(sample: synthetic.Sample, method: str) -> dict[str, Any]:
    began = time.perf_counter()
    try:
        found = pipelines.PIPELINES[method](sample.image, sample.outlines, sample.model)
    except cv2.error as error:
        return {"seconds": time.perf_counter() - began, "crash": str(error)}
    seconds = {"seconds": time.perf_counter() - began}
    # A map that squeezes the plane onto a line is no answer either.
    if found is None or abs(np.linalg.det(found[:, :2])) < 1e-12:
        return seconds
    return seconds | _compare(frames.invert(found), sample)


def _by_regmap(sample: synthetic.Sample, seed: int) -> dict[str, Any]:
    tried = attempt(sample.image, sample.outlines, model=sample.model)
    found: dict[str, Any] = {
        "seconds": tried.seconds,
        "refused": tried.refused,
        "crash": tried.crash,
        "reasons": tried.reasons,
        "confidence": NAN if tried.crash else tried.confidence,
    }
    fit = tried.fit
    if fit is None or sample.answer == "stranger":
        return found
    others = [_compare(other.transform, sample)["error_px"] for other in fit.alternatives]
    found |= _compare(fit.transform, sample) | _coverage(fit, sample)
    found |= {
        "wall_offset": fit.wall_offset,
        "others_px": tuple(others),
        "others_confidence": tuple(other.confidence for other in fit.alternatives),
    }
    if sample.answer == "twins":
        tie = _tie_point(fit, sample, seed)
        again = attempt(sample.image, sample.outlines, model=sample.model, tie_points=[tie])
        if again.fit is not None:
            found["tied_px"] = _compare(again.fit.transform, sample)["error_px"]
            found["tied_confidence"] = again.confidence
    return found


def _compare(found: frames.Map, sample: synthetic.Sample) -> dict[str, Any]:
    vectors = misplacement_px(found, sample.image_to_device, sample.visible_px)
    column, row = vectors.mean(axis=0)
    return {"error_px": rms(vectors), "bias_px": (float(column), float(row))}


def _coverage(fit: Registration, sample: synthetic.Sample) -> dict[str, Any]:
    true = frames.apply(sample.image_to_device, sample.visible_px)
    apart = np.hypot(*(fit.to_device(sample.visible_px) - true).T)
    expected = fit.expected_error(sample.visible_px)
    return {
        "covered": float((apart <= expected).mean()),
        "expected": float(np.median(expected)),
        "apart": float(np.median(apart)),
    }


def _tie_point(
    fit: Registration, sample: synthetic.Sample, seed: int
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return the pair that a person would give: where the answers differ most, read off to 2 px."""
    true = frames.apply(sample.image_to_device, sample.visible_px)
    maps: list[frames.Map] = [
        fit.transform,
        *(a.transform for a in fit.alternatives),
        *sample.alternatives,
    ]
    gaps = [np.hypot(*(frames.apply(m, sample.visible_px) - true).T) for m in maps]
    wrong = [gap for gap in gaps if gap.max() > TOLERANCE_PX * frames.scale_of(fit.transform)]
    clearest = np.min(wrong, axis=0) if wrong else np.hypot(*(true - true.mean(axis=0)).T)
    at = int(np.argmax(clearest))
    seen = sample.visible_px[at] + np.random.default_rng(seed).normal(0.0, 2.0, 2)
    return (float(seen[0]), float(seen[1])), (float(true[at, 0]), float(true[at, 1]))


class Runs:
    """Measures each (method, family, seed) once in a run, whichever suites ask for it."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._known: dict[tuple[str, str, int], Outcome] = {}

    def outcomes(
        self,
        families: Sequence[str],
        *,
        methods: Sequence[str] = (REGMAP,),
        at_most: int | None = None,
    ) -> list[Outcome]:
        """Return the outcomes of the first `at_most` seeds, by method, family, seed."""
        seeds = self._settings.seeds[:at_most]
        wanted = [(m, f, s) for m in methods for f in families for s in seeds]
        missing = [key for key in wanted if key not in self._known]
        with click.progressbar(
            self._measure(missing),
            length=len(missing),
            label=f"{len(missing)} runs",
            file=sys.stderr,
        ) as done:
            for key, outcome in zip(missing, done, strict=True):
                self._known[key] = outcome
        return [self._known[key] for key in wanted]

    def _measure(self, keys: Sequence[tuple[str, str, int]]) -> Iterator[Outcome]:
        return spread_out(measure, keys, self._settings.jobs)


def spread_out(
    work: Callable[..., Result], keys: Sequence[tuple[Any, ...]], jobs: int
) -> Iterator[Result]:
    """Yield work(*key) for all keys, in order, from `jobs` processes of one thread each."""
    if jobs <= 1 or len(keys) <= 1:
        one_thread()
        yield from (work(*key) for key in keys)
        return
    # Spawned, not forked: a worker starts clean, as it would under any other system.
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(jobs, mp_context=context, initializer=one_thread) as pool:
        yield from pool.map(work, *zip(*keys, strict=True), chunksize=2)


def one_thread() -> None:
    """Keep OpenCV of this process on one core; BLAS is kept there by the package's environment."""
    cv2.setNumThreads(1)


def by_family(outcomes: Iterable[Kin]) -> dict[str, list[Kin]]:
    """Sort outcomes into families, in the order of their first appearance."""
    groups: dict[str, list[Kin]] = {}
    for outcome in outcomes:
        groups.setdefault(outcome.family, []).append(outcome)
    return groups


def summary(outcomes: Sequence[Outcome]) -> tuple[int, float, float, float]:
    """Return pictures, share right, median error px (no answer counts as infinite), share sure."""
    error = np.array([o.error_px for o in outcomes])
    middle = float(np.median(np.where(np.isnan(error), np.inf, error)))
    right = float(np.mean([o.right for o in outcomes]))
    return len(outcomes), right, middle, float(np.mean([o.sure for o in outcomes]))
