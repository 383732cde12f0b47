"""The whole pipeline in one page: read this first.

A picture and outlines come in. The picture is cut into regions, the outlines are rasterised,
contours and wall positions are matched to first poses, point-to-line ICP refines them, the fits are
judged, and the best one goes out with what speaks for it and against it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from affine import Affine
from numpy.typing import NDArray

from regmap import frames
from regmap.engine import (
    budget,
    candidates,
    confidence,
    cuts,
    displaced,
    doubts,
    edges,
    judge,
    measure,
    nearby,
    precision,
    profiles,
    pyramid,
    rasterise,
    refine,
    score,
    segment,
    starts,
    strain,
    ties,
)
from regmap.engine import walls as walling
from regmap.inputs.options import within_reach
from regmap.registration import NOTHING_FITS, SURE, Registration, RoomFit
from regmap.timing import stopwatch

__all__ = ["Pipeline"]

Floats = NDArray[np.float64]
Weighed = tuple[measure.Fit, judge.Evidence]

ENGINE = "1"
_WORKING_PX = 640
_SMALL_PX = 800
_TOLERANCE_PX = 2.0
# px of a level to either side within which borders are sought, step by step.
_HALVES = (3.0, 2.5)
# When it is asked whether that is kept, what is guessed of the variance is taken for twice as much:
# to be sure and wrong is worse than to doubt.
_SAFETY = 2.0
# Share by which the turns and scales of two poses may differ that are shifted against each other.
_SAME_TURN = 0.02
# A pose of the same answer that explains this share of the best one leaves it blurred, unless walls
# stand much more sharply under the best.
_BLURRED = 0.85


class Pipeline:
    """One run of the pipeline: its stages in order, and what each leaves for the next."""

    def __init__(
        self,
        picture: NDArray[np.uint8],
        rings: Mapping[str, tuple[Floats, ...]],
        model: str,
        mirrored: bool | None = None,
        tied: tuple[Floats, Floats] | None = None,
        near: Registration | Affine | None = None,
        on_stage: Callable[[str], object] | None = None,
    ) -> None:
        self.picture, self.rings, self.model = picture, rings, model
        self.affine = model == "affine"
        self.flips = {None: (-1.0, 1.0), False: (-1.0,), True: (1.0,)}[mirrored]
        self.ties = tied or (np.zeros((0, 2)), np.zeros((0, 2)))
        self.near, self.clock = near, stopwatch(on_stage)
        self.known: dict[int, precision.Precision] = {}

    def solve(self) -> Pipeline:
        """Run all stages."""
        self._prepare()
        poses, offsets = self._first_poses()
        self.clock("search")
        self._refine(poses, offsets)
        self.clock("refine")
        self._judge()
        self.clock("judge")
        return self

    def _prepare(self) -> None:
        self.walls = walling.build_walls(list(self.rings.values()))
        raster = rasterise.rasterise(self.walls)
        self.clock("rasterise")
        self.levels = pyramid.pyramid(self.picture, _WORKING_PX, small=_SMALL_PX)
        self.factor, small = self.levels[0]
        found = edges.find_edges(small, self.factor)
        self.clock("edges")
        maps = segment.RegionMaps(found)
        _ = maps.few
        self.clock("segment")
        self.scene = starts.Scene(found, maps, self.walls, raster, self.affine, self.flips)
        # Enough to tell a room's colour from print upon it; small ones have no more pixels.
        points = min(40, max(16, 8000 // self.walls.rooms))
        inside = rasterise.inner_points(raster, self.walls, points)
        self.coarse = measure.make_probe(self.walls, inside, samples=900, chunk=6)
        self.fine = measure.make_probe(self.walls, inside, samples=2500, chunk=8)

    def _first_poses(self) -> tuple[Floats, Floats]:
        """Poses (C, 2, 3) in working px, best first, and their wall offsets."""
        most = budget.finalists(self.walls)
        if self.near is not None:
            given = self.near.transform if isinstance(self.near, Registration) else self.near
            pose = within_reach(self._own_pose(frames.affine_to_matrix(given))) * self.factor
            if not self.affine:
                # It may have been fitted as an affine map, or be of a picture that was stretched.
                corners = self.walls.corners
                flip = frames.is_mirrored(pose)
                pose = frames.fit_similarity(corners, frames.apply(pose, corners), mirrored=flip)
            return candidates.settle_near(self.scene, pose[None], most)[:2]
        known = self._meets_ties if len(self.ties[0]) else None
        return candidates.find_candidates(self.scene, most, known)[:2]

    def _refine(self, poses: Floats, offsets: Floats) -> None:
        """Refines all on the working picture, and those that remain likely on the full one."""
        fits = refine.refine_apart(
            self.levels[0],
            poses / self.factor,
            offsets / self.factor,
            self.coarse,
            affine=self.affine,
        )
        rest: list[Weighed] = []
        # One that is alone has nothing to be held against.
        if len(fits) > 1:
            weighed = self._against_each_other(fits)
            likely = budget.affordable(judge.likely([e for _, e in weighed]), self.fine)
            fits = [fit for (fit, _), chosen in zip(weighed, likely, strict=True) if chosen]
            rest = [pair for pair, chosen in zip(weighed, likely, strict=True) if not chosen]
        sharp = [
            refine.refine_fully(self.levels, fit, self.fine, affine=self.affine, halves=_HALVES)
            for fit in fits
        ]
        found = self._ranked(self._weighed(sharp)) + rest
        self.fits = [fit for fit, _ in found]
        self.evidence = [evidence for _, evidence in found]

    def _against_each_other(self, fits: list[measure.Fit]) -> list[Weighed]:
        """Fits on the working picture, ranked, after each had its try with the best one's walls."""
        known = self._ranked(self._weighed(fits))
        best, evidence = known[0]
        beside = refine.refine_with_walls(
            self.levels[0],
            [fit for fit, e in known if e.rough >= judge.SEEN_AT_ALL * evidence.rough],
            best.offset,
            self.coarse,
            affine=self.affine,
        )
        return self._ranked(known + self._weighed(beside)) if beside else known

    def _weighed(self, fits: list[measure.Fit]) -> list[Weighed]:
        """Fits, and what speaks for each."""
        final = np.stack([fit.pose * self.factor for fit in fits])
        offset = np.stack([fit.offset * self.factor for fit in fits])
        scores = candidates.score(self.scene, final, offset, walling.sample_walls(self.walls, 500))
        rooms, seen = self.walls.rooms, self.scene.edges
        explains = [
            score.explained(*laid, self.walls, seen, reach=2.5)
            for laid in zip(final, offset, strict=True)
        ]
        return [
            (fit, judge.weigh(fit, scores, number, explains[number], rooms, self.factor))
            for number, fit in enumerate(fits)
        ]

    def _ranked(self, found: list[Weighed]) -> list[Weighed]:
        """Those that differ from every better one, best first."""
        order = np.argsort([-evidence.standing for _, evidence in found], kind="stable")
        poses = np.stack([fit.pose * self.factor for fit, _ in found])
        return [found[n] for n in candidates.distinct(self.scene, poses, order, 2.0)]

    def _judge(self) -> None:
        self.contradicted = False
        if len(self.ties[0]):
            gaps = self._tie_gaps(np.stack([fit.pose for fit in self.fits]))
            near = gaps <= ties.tie_reach(self.picture.shape[:2])
            if near.any():
                total = np.array([evidence.total for evidence in self.evidence])
                near[near] = ~ties.misses_clearly(gaps[near], total[near])
                keep = [n for n, good in enumerate(near) if good]
                self.fits = [self.fits[n] for n in keep]
                self.evidence = [self.evidence[n] for n in keep]
            else:
                self.contradicted = True
        self.fits[0] = refine.seen_in_light(self.levels, self.fits[0], self.coarse)
        best = max(self.evidence[0].total, 1e-12)
        share = [evidence.total / best for evidence in self.evidence]
        pose = np.stack([fit.pose for fit in self.fits])
        gaps = candidates.pose_gaps(self.walls, pose)
        # A pose a few pixels off is the same answer, not well found; farther ones are others.
        far = gaps > candidates.SAME_POSE * float(np.hypot(*self.picture.shape[:2]))
        far &= self.near is None
        turned = np.abs(pose[:, :, :2] - pose[0, :, :2]).max(axis=(1, 2))
        shifted = (turned <= _SAME_TURN * np.abs(pose[0, :, :2]).max()).tolist()
        first, rest = self.evidence[0], range(1, len(share))
        ruled_out = [judge.is_ruled_out(self.evidence[n], first, shifted[n]) for n in rest]
        other = [n for n, out in zip(rest, ruled_out, strict=True) if far[n] and not out]
        self.twins = [n for n in other if judge.is_twin(self.evidence[n], first, shifted[n])]
        rivals = [n for n in other if n not in self.twins]
        against = (judge.rivalry(self.evidence[n], first, shifted[n]) for n in rivals)
        self.rival = max(against, default=0.0)
        close = [n for n in rest if not far[n] and not judge.is_outdone(self.evidence[n], first)]
        self.blur_px = float(max((gaps[n] for n in close if share[n] >= _BLURRED), default=0.0))
        self.strain = self._strain()
        pose, offset = (part * self.factor for part in (self.fits[0].pose, self.fits[0].offset))
        far = judge.on_far_faces(self.fits[0])
        laid = displaced.lay_walls(pose, offset, self.walls, self.scene.edges, far)
        self.cut = cuts.rooms_cut(laid, self.scene.raster)
        moved = displaced.displaced_walls(laid)
        part = max(displaced.shifted_part(laid), self._look_nearby(), key=lambda part: part.sure)
        self.beside = displaced.rooms_beside(moved, self.walls) | part.rooms
        farthest = max(float(np.abs(np.nan_to_num(moved)).max()), abs(part.by_px))
        self.beside_px, self.shifted = farthest / self.factor, part.sure

    def _strain(self) -> strain.Strain:
        """What of the best fit no one move lays."""
        fit, affine = self.fits[0], self.affine
        found = strain.strain_of(fit, affine=affine)
        if affine or not strain.may_hide_a_stretch(fit):
            return found
        free = refine.refine_fully(self.levels, fit, self.fine, affine=True, halves=_HALVES)
        ((_, freed),) = self._weighed([free])
        stretch = strain.stretch_of(fit, free, self.evidence[0], freed)
        return max(found, stretch, key=lambda strain: strain.sure)

    def _look_nearby(self) -> displaced.Shifted:
        """What stands at one shift right beside the best fit; and whether that is a stretch."""
        fit = self.fits[0]
        probe = self.fine if fit.chunks is self.fine.chunks else self.coarse
        paint = measure.paint_rooms(self.levels[0], fit.pose, probe)
        seen = nearby.look_nearby(self.picture, fit, probe, paint)
        self.stretched = (0.0, 0.0)
        if seen is None:
            return displaced.nothing_shifted(self.walls)
        self.stretched = nearby.stretched_or_bent(fit, seen, affine=self.affine)
        return displaced.shifted_nearby(fit, seen, self.walls, self.factor)

    def _meets_ties(self, poses: Floats) -> NDArray[np.bool_]:
        """True for poses (C, 2, 3) in working px that bring all tie points together."""
        return self._tie_gaps(poses / self.factor) <= ties.tie_reach(self.picture.shape[:2])

    def _tie_gaps(self, poses: Floats) -> Floats:
        image, device = self.ties
        own = (device - self.walls.origin) @ np.linalg.inv(self.walls.linear).T
        return ties.tie_gaps(poses, image, own)

    def _own_pose(self, image_to_device: Floats) -> Floats:
        """(2, 3) own frame -> full px, of a (2, 3) picture -> device."""
        back = frames.invert(image_to_device)
        pose = np.empty((2, 3))
        pose[:, :2] = back[:, :2] @ self.walls.linear
        pose[:, 2] = back[:, :2] @ self.walls.origin + back[:, 2]
        return pose

    def registration(self, unit: str = "mm") -> Registration:
        """The best fit as a Registration, twins as its alternatives."""
        share = 1.0 / (1 + len(self.twins))
        best, rooms = self.evidence[0], self.walls.rooms
        crossed, lines = judge.crossed(self.fits[0]), precision.lines_held(self.fits[0])
        most = confidence.at_most(best, rooms, crossed, lines)
        storey = confidence.other_storey(best, self.cut, lines)
        sure = confidence.confidence(best, self.rival, most, lines, storey)
        if len(self.ties[0]) and not self.contradicted:
            gap = self._tie_gaps(self.fits[0].pose[None]).item()
            sure = ties.vouched(sure, gap, ties.tie_reach(self.picture.shape[:2]))
        close, elsewhere = self._chance_within(0), self.fits[0].elsewhere
        bent = max(confidence.bent(int(self.beside.sum()), rooms), self.shifted)
        alone = precision.rests_on_one_line(self.fits[0])
        apart = max(bent, alone, self.strain.sure, self.stretched[0])
        sure *= close * (1.0 - elsewhere) * (1.0 - 0.5 * apart)
        if self.blur_px > 0.0:
            sure = min(sure, 0.89)
        if self.contradicted:
            sure = min(sure, 0.04)
        # Nothing but the start has been looked at; only a tie point can tell it from its twins.
        given = self.near if not len(self.ties[0]) else None
        start = given.confidence if isinstance(given, Registration) else 1.0
        sure = min(sure, start)
        # What fits nowhere does not fit as well elsewhere.
        told = self.twins if sure >= NOTHING_FITS else []
        few = told[: budget.alternatives(rooms)]
        others = tuple(self._registration(n, unit, share * sure) for n in few)
        said = doubts.doubts(best, self.rival, rooms, len(told), most)
        said += doubts.other_storey(self.rings, self.cut, storey)
        said += doubts.one_line(alone) + doubts.strained(self.strain)
        said += doubts.stretched_or_bent(*self.stretched)
        said += doubts.moved_walls(self.rings, self.beside, self.beside_px, bent)
        unmet = judge.rooms_unmet(self.fits[0], rooms)
        said += doubts.lost_walls(self.rings, unmet, self.beside)
        lit = (self.fits[0].lit, self.fits[0].lit_px)
        said += doubts.near_misses(self.blur_px, 1.0 - close, elsewhere, _TOLERANCE_PX, lit)
        if share * sure < SURE and not said:
            said = [doubts.unclear(tied=len(self.ties[0]) > 0)]
        if self.contradicted:
            said.insert(0, doubts.CONTRADICTED)
        if start < SURE:
            said.insert(0, doubts.STARTED_IN_DOUBT)
        return self._registration(0, unit, share * sure, tuple(said), others)

    def image_to_device(self, number: int) -> Floats:
        """(2, 3) full px -> device units, of a fit."""
        pose = self.fits[number].pose
        back = self.walls.linear @ np.linalg.inv(pose[:, :2])
        return np.column_stack([back, self.walls.origin - back @ pose[:, 2]])

    def precision(self, number: int) -> precision.Precision:
        """How well a fit is known, if it is the right one."""
        if number not in self.known:
            fit = self.fits[number]
            borders = fit.place + fit.normal * fit.residual[:, None]
            sharp = profiles.step_sharpness(self.levels[-1][1], borders, fit.normal)
            self.known[number] = precision.estimate_precision(fit, sharp, affine=self.affine)
        return self.known[number]

    def _chance_within(self, number: int) -> float:
        place = self.fits[number].place[self.fits[number].shown > 0.5]
        if not len(place):
            return 0.0
        known = self.precision(number)
        wary = np.sqrt(1.0 + (_SAFETY - 1.0) * known.guessed)
        return precision.chance_within(known, place, _TOLERANCE_PX / wary)

    def _registration(
        self,
        number: int,
        unit: str,
        sure: float,
        reasons: tuple[str, ...] = (),
        alternatives: tuple[Registration, ...] = (),
    ) -> Registration:
        fit = self.fits[number]
        found = self.image_to_device(number)
        back = found[:, :2]
        known = self.precision(number)
        scale = float(np.sqrt(abs(np.linalg.det(back))))
        blur = 0.5 * self.blur_px if number == 0 else 0.0
        apart = 0.5 * self.strain.sure * self.strain.by_px if number == 0 else 0.0
        outer = float(self.walls.length[self.walls.outer].sum() / self.walls.length.sum())
        return Registration(
            transform=frames.matrix_to_affine(found),
            model=self.model,
            confidence=sure,
            reprojection_error=self.evidence[number].scatter,
            wall_offset=float(fit.offset @ [1.0 - outer, outer]) * scale,
            covariance=precision.position_covariance(known, back),
            anchor_px=(float(known.anchor[0]), float(known.anchor[1])),
            # Between two poses that explain the picture alike, either may be the true one.
            floor_error=(0.02 + max(blur, apart, fit.lit * fit.lit_px)) * scale,
            image_size=(self.picture.shape[1], self.picture.shape[0]),
            outlines=self.rings,
            rooms=self._rooms(number),
            reasons=reasons,
            alternatives=alternatives,
            residuals=np.column_stack([fit.place, fit.residual])[fit.quality > 0.0],
            unit=unit,
            engine=ENGINE,
        )

    def _rooms(self, number: int) -> tuple[RoomFit, ...]:
        fit, evidence = self.fits[number], self.evidence[number]
        overlap = segment.room_overlaps(self.scene.maps, self.walls.rings, fit.pose * self.factor)
        middle = self.coarse.inside.shape[1] // 2
        labels = self.coarse.inside[:, middle] @ fit.pose[:, :2].T + fit.pose[:, 2]
        scatter = judge.room_scatter(fit, len(self.rings))
        agrees = judge.agreeing(evidence.room_support) & ~(self.beside & (number == 0))
        hides = ~np.isfinite(evidence.room_support)
        shown = np.clip(evidence.room_shown, 0.0, 1.0)
        support = np.where(hides, 0.0, np.minimum(evidence.room_support, 1.0))
        rooms = []
        for index, name in enumerate(self.rings):
            state = "not shown" if hides[index] else "agrees" if agrees[index] else "disagrees"
            rooms.append(
                RoomFit(
                    name=name,
                    state=state,
                    overlap=float(overlap[index]),
                    rmse_px=float(scatter[index]),
                    support=float(support[index]),
                    shown=float(shown[index]),
                    label_px=(float(labels[index, 0]), float(labels[index, 1])),
                )
            )
        return tuple(rooms)
