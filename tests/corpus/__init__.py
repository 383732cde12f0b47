"""Texts that hold outlines, in many spellings: what the tests of the readers go through.

The keys are made up. Each spelling takes {name: ring} and gives a text (or bytes) from which the
very same must be read; a spelling that cannot carry names says what they become instead.
"""

from tests.corpus import documents, messages, oddities, rows, statements
from tests.corpus.base import CORPUS, FLOORS, Case, Rings

__all__ = [
    "CORPUS",
    "FLOORS",
    "Case",
    "Rings",
    "documents",
    "messages",
    "oddities",
    "rows",
    "statements",
]
