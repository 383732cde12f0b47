"""What a benchmark run was asked to do."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

__all__ = ["FIRST_SEED", "FULL", "QUICK", "Settings"]

FIRST_SEED = 10_000
"""Development uses seeds below 1000; what is measured here was never looked at before."""

FULL, QUICK = 60, 1
"""Pictures a family in a full and in a quick run."""


@dataclass(frozen=True)
class Settings:
    """Options that every suite shares.

    Attributes:
        pictures: pictures a family.
        seed: the first seed; picture i of a family has seed + i.
        jobs: worker processes. Times are always taken in one process, one picture after another.
        families: the families to run, empty for all of them.
        out: folder for tables and plots.
        quick: leave out what takes minutes (large pictures, long sweeps).
        maps: a folder of recorded maps with a pairs.json, for the suite `real`.
        floors: a GeoJSON file of floors, for the suite `own`.
    """

    pictures: int = FULL
    seed: int = FIRST_SEED
    jobs: int = 1
    families: tuple[str, ...] = ()
    out: Path = Path("benchmarks/out")
    quick: bool = False
    maps: Path | None = None
    floors: Path | None = None

    @property
    def seeds(self) -> range:
        """The seeds of each family."""
        return range(self.seed, self.seed + self.pictures)
