"""Every error is one family, and survives a trip to another process."""

from __future__ import annotations

import copy
import pickle

import pytest

from regmap import errors
from tests.fit_examples import make_fit


@pytest.mark.parametrize("name", errors.__all__)
def test_one_family(name: str) -> None:
    kind = getattr(errors, name)
    if name.endswith("Warning"):
        assert issubclass(kind, UserWarning)
    else:
        assert issubclass(kind, errors.RegmapError)
        assert issubclass(kind, ValueError)


def test_no_fit_carries_its_best_and_its_reasons() -> None:
    error = errors.NoFitError(make_fit(confidence=0.2), ("too dark", "too small"))
    for other in (error, pickle.loads(pickle.dumps(error)), copy.copy(error)):
        assert other.best is not None
        assert other.best.confidence == 0.2
        assert other.reasons == ("too dark", "too small")
        assert "too dark; too small" in str(other)
    assert errors.NoFitError().best is None


def test_doubtful_fit_says_why_and_what_to_do() -> None:
    fit = make_fit(confidence=0.7, alternatives=(make_fit(),))
    error = pickle.loads(pickle.dumps(errors.DoubtfulFitError(fit)))
    assert error.fit.same_as(fit)
    for part in ("0.70", "1 other", "one wall lies outside", "accept_doubt=True"):
        assert part in str(error)


@pytest.mark.parametrize("kind", [errors.PictureError, errors.OutlineError, errors.StoredFileError])
def test_plain_errors_pickle(kind: type[errors.RegmapError]) -> None:
    again = pickle.loads(pickle.dumps(kind("so it is")))
    assert type(again) is kind
    assert str(again) == "so it is"
