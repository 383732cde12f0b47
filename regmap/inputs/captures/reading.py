"""Room outlines in nearly any text: logs, messages, tables, documents.

The way of a text through the files beside this one: `unpack` makes text of bytes, `order` turns a
log whose newest records stand first, `sift` leaves out what a long log says about other things, and
by `rewriting`, `carriers`, `pieces`, `cut_messages` and `streams` put documents together that came
in pieces, `statements` names the columns of rows, `heads` makes names plain before outlines,
`octets` joins bytes, `thousands` makes plain numbers of such as 12'800. `tree` makes a tree of
groups of the text, with `tables` and `layouts` for what stands in rows; `scattered` and `blocks`
put corners together between which other things are said, `nodes` where a list names them, and
`steps` walks from a start. `points`, `parting`, `holes`, `pens` and `clues` find every sequence of
points in the tree with what stands beside it, `turned` and `units` bring them into one order and
unit, `names` and `choice` decide which of them are the rooms, with `ways` for driven paths,
`speakers` for several robots, and `endings` for what was cut off. Where nothing is found, `boxes`
makes corners of boxes. `refusals` and `gone` ask at last whether the text says itself that they are
not all, elsewhere, or no more.
"""

from __future__ import annotations

import bisect
import os
import re
import warnings
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from regmap.errors import CutOffWarning, OutlineError
from regmap.given import as_path, instance, short, whole
from regmap.inputs.captures.axes import measures
from regmap.inputs.captures.blocks import gather_blocks
from regmap.inputs.captures.boxes import with_boxes
from regmap.inputs.captures.carriers import unchunked
from regmap.inputs.captures.choice import MAX_POINTS, Choice, choose, name_rest, shapes_of
from regmap.inputs.captures.endings import told_cut_off
from regmap.inputs.captures.find import Found, Names, find
from regmap.inputs.captures.floors import floors_of, labels
from regmap.inputs.captures.groups import ends_open
from regmap.inputs.captures.nodes import place_nodes
from regmap.inputs.captures.order import in_time
from regmap.inputs.captures.plain import find_plain
from regmap.inputs.captures.refusals import against
from regmap.inputs.captures.rewriting import rewritten
from regmap.inputs.captures.scattered import put_in_order
from regmap.inputs.captures.shapes import Shape
from regmap.inputs.captures.sift import sift
from regmap.inputs.captures.steps import walk
from regmap.inputs.captures.tree import build
from regmap.inputs.captures.unpack import (
    MAX_PARTS,
    Budget,
    is_binary,
    text_of_bytes,
    uncoloured,
    unpacked,
    utf8,
)
from regmap.inputs.captures.words import without_level
from regmap.inputs.opened import opened

__all__ = ["MAX_BYTES", "Candidate", "list_candidates", "parse_outlines", "read_outlines"]

MAX_BYTES = 2**29
"""The longest text taken."""

_NUMBERED = re.compile(r"room \d+")
"""What a room is called of which the text says no name."""

_SHOWN = 12
"""How many candidates an error lists."""


@dataclass(frozen=True, eq=False)
class Candidate:
    """A sequence of points that may be a room's outline.

    Attributes:
        name: what it is called, or would be.
        key: the keys that lead to it, with dots between; `key=` takes any part of it.
        line: the line of the text on which it begins, counted from 1.
        points: (N, 2) as they stand in the text.
        area: what they enclose, in their unit squared; nan if they enclose nothing, or cross.
        chosen: whether it is among the outlines that `parse_outlines` returns.
    """

    name: str
    key: str
    line: int
    points: NDArray[np.float64]
    area: float
    chosen: bool


def read_outlines(
    path: str | os.PathLike[str], *, key: str | None = None, most_parts: int = MAX_PARTS
) -> dict[str, Polygon]:
    """Read the rooms' outlines from a file that holds them in any way: see `parse_outlines`.

    They come in the capture's own units and frame, as the robot takes them: nothing is scaled,
    turned or moved.
    """
    place = as_path(path, "path", error=OutlineError)
    try:
        with opened(place) as file:
            data = file.read(MAX_BYTES + 1)
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or error
        raise OutlineError(f"cannot read the outlines from {str(place)!r}: {why}") from error
    try:
        return parse_outlines(data, key=key, most_parts=most_parts)
    except OutlineError as error:
        raise OutlineError(f"{place.name}: {error}") from error


def parse_outlines(
    text: str | bytes, *, key: str | None = None, most_parts: int = MAX_PARTS
) -> dict[str, Polygon]:
    """Find the rooms' outlines in a text and return them as `{name: polygon}`.

    They come in the capture's own units and frame, as the robot takes them: nothing is scaled,
    turned or moved, whatever the text says about units. Only where single rooms tell units of their
    own, which differ, all come in the smallest of them. Of pairs that are said to be y and x by a
    key to them, or one that tells an order, x comes first.

    Parameters
    ----------
    text
        A log, messages, a table or a document. Points are pairs of numbers with semicolons, commas,
        spaces or brackets between them, objects with x and y, rows with such columns, or lists of
        all x beside all y, or steps from a start; where there are none, boxes by their min and max,
        or by a place and a size.
        They may stand in JSON, XML, YAML, CSV, GeoJSON, well-known text or
        Python's own spelling; in texts quoted or escaped inside others, or packed as base64 or hex,
        with zlib or gzip or without. Bytes are UTF-8, UTF-16 or Windows-1252, gzip or not.
    key
        Which outlines to take if the text holds several kinds: any part of the path of keys that
        leads to them, or what names the floor that they are of. `list_candidates` shows them.
    most_parts
        How many parts (numbers in a row, words, keys, marks) the text may fall into, without what a
        long log says of other things; a line, a bracket and an element count as three more. 100 000
        of them take less than a second.

    Returns
    -------
    dict
        In the order of the text. An outline's name is what stands beside it, a name
        before an id; "room 1" and so on where there is nothing. Of several outlines of one room the
        last counts, and one that newer ones lie on is left out; so is what is said to be deleted,
        or not active where most rooms are, and, while there are others, a draft or what was before.
        Where time stamps plainly go back from record to record, or from list to list, the newest
        stand first: then the first counts, and the order is that of the stamps. A driven path, a
        pose, a barrier or an area to keep out of is no room while there are others. What was cut
        off is left out, with a CutOffWarning; so is the last outline of a text that ends with it,
        if all others end where they began, or have square corners, and it does not.

    Raises
    ------
    OutlineError
        Nothing was found, or outlines of several floors or robots, or such as mostly lie on each
        other; the text says itself that rooms, corners or pieces of it are missing, that all areas
        are to be kept out of, that a room is gone or a corner elsewhere, that y comes first, or
        that they are in pixels, in cells, told by steps or from an origin of their own; many
        outlines cross themselves; it is no text, or too long. The message lists what there is, and
        on which lines. What is refused for what the text says is taken as it is where `key` asks
        for it.
    """
    try:
        reading = _Reading(text, key, most_parts)
        shapes = reading.chosen()
    except shapely.errors.GEOSException as error:
        raise OutlineError(
            f"outlines nearly touch, and what they share cannot be worked out ({error}); round "
            "their coordinates to whole units, or leave out those that lie on others"
        ) from error
    reading.tell_cut_off(shapes)
    return {s.name: s.polygon for s in shapes if s.polygon is not None}


def list_candidates(
    text: str | bytes, *, key: str | None = None, most_parts: int = MAX_PARTS
) -> tuple[Candidate, ...]:
    """Return everything in a text that may be an outline, in the order of the text.

    Raises
    ------
    OutlineError
        The text is no text, or too long.
    """
    reading = _Reading(text, key, most_parts)
    return tuple(map(reading.candidate, reading.shapes))


class _Reading:
    """One pass over a text."""

    shapes: list[Shape]
    wanted: list[Shape]
    best: Choice

    def __init__(self, text: str | bytes, key: str | None, most_parts: int) -> None:
        if not isinstance(text, str | bytes | bytearray | memoryview):
            raise OutlineError(
                f"the text is {short(text)}, but text or bytes are needed; read_outlines(path) "
                "reads a file"
            )
        self.budget = Budget(parts=whole(most_parts, "most_parts", error=OutlineError))
        self.key = None if key is None else instance(key, str, "key", error=OutlineError)
        data = text.encode("utf-8", "replace") if isinstance(text, str) else bytes(text)
        if len(data) > MAX_BYTES:
            raise OutlineError(
                f"the text is longer than {MAX_BYTES // 2**20} MiB; cut out the part with the rooms"
            )
        data = uncoloured(unchunked(utf8(data)))
        if is_binary(data):
            raise OutlineError(
                "this is no text but a binary file; allowed are texts that hold outlines as numbers"
            )
        ordered = in_time(data)
        sifted = sift(ordered.data)
        plain = text_of_bytes(sifted.data)
        # Without a digit there is no number, however many brackets and marks there are to go by.
        self.plain = plain if any(map(str.isdigit, plain)) else ""
        self.lines = sifted.lines
        if ordered.lines is not None:
            every = ordered.lines
            self.lines = every if sifted.lines is None else [every[n - 1] for n in sifted.lines]
        self.budget.look_over(self.plain)
        self.plain = rewritten(self.plain)
        packed = unpacked(self.plain.strip(), self.budget)
        try:
            self.read = self.plain if packed is None else packed
            tree = build(self.read, self.budget)
            put_in_order(tree)
            gather_blocks(tree)
            place_nodes(tree)
            walk(tree)
            self._take(*find(tree))
        except RecursionError:
            raise OutlineError(
                "the text is nested too deeply; cut out the part with the rooms"
            ) from None
        if not self.best.versions and with_boxes(tree):
            self._take(*find(tree))
        self.open_end = ends_open(tree)
        if not self.open_end and not measures(tree):
            if self._is_doubtful():
                self._read_plainly()
            elif self._is_nameless():
                self._name_plainly()
        name_rest(self.shapes, self.tables)
        self.floors = floors_of(self.best.versions)
        for shape in self.best.rooms:
            shape.chosen = not self.floors.labels
        self._breaks: list[int] | None = None

    def _take(self, found: Sequence[Found], tables: Names) -> None:
        """Choose the rooms among what was found."""
        self.tables = tables
        self.shapes = shapes_of(found, self.read)
        self._choose()

    def _is_doubtful(self) -> bool:
        """Whether no outline encloses an area, or most of those of the rooms' kind do not, which
        are all where there are no rooms."""
        if any(shape.found.uneven for shape in self.shapes):
            return False
        if all(shape.polygon is None for shape in self.shapes):
            return True
        kinds = {room.pattern for room in self.best.rooms}
        whole = [shape for shape in self.shapes if not shape.found.cut]
        alike = [shape for shape in whole if shape.pattern in kinds or not kinds]
        return 2 * sum(shape.polygon is None for shape in alike) > len(alike) > 0

    def _read_plainly(self, fewest: int = 0) -> None:
        """Read the text by its numbers alone, if that brings more rooms, or `fewest`."""
        shapes, wanted, best = self.shapes, self.wanted, self.best
        self.shapes = shapes_of(find_plain(self.plain), self.plain) or self.shapes
        self._choose()
        if best.rooms and len(self.best.rooms) < (fewest or len(best.rooms) + 1):
            self.shapes, self.wanted, self.best = shapes, wanted, best

    def _is_nameless(self) -> bool:
        """Whether nothing names any of the rooms, neither a key nor what was seen beside them."""
        rooms = self.best.rooms
        told = any(room.found.path or not _NUMBERED.fullmatch(room.name) for room in rooms)
        return len(rooms) > 0 and not told

    def _name_plainly(self) -> None:
        """Take names from reading the text by its numbers alone, if that brings the same rooms."""
        shapes, wanted, best = self.shapes, self.wanted, self.best
        self._read_plainly(fewest=len(best.rooms))
        same = all(map(Shape.is_same, best.rooms, self.best.rooms))
        if not same or len(self.best.rooms) > len(best.rooms):
            self.shapes, self.wanted, self.best = shapes, wanted, best

    def _choose(self) -> None:
        key = self.key
        self.wanted = [shape for shape in self.shapes if key is None or _matches(shape, key)]
        self.best = choose(self.wanted, self.tables, every=key is not None)

    def chosen(self) -> Sequence[Shape]:
        """The rooms, or an error that says what there is instead."""
        if labels := self.floors.labels:
            options = ", ".join(f"key={label!r}" for label in labels)
            raise OutlineError(
                f"outlines of {len(labels)} floors {self.floors.why}; choose one of {options}"
                + self._listed(self.best.versions)
            )
        rooms = self.best.rooms
        if (
            self.key is None
            and not self.best.heap
            and (why := against(rooms, self.shapes, self.read))
        ):
            raise OutlineError(why + self._listed(rooms))
        if rooms:
            return rooms
        if self.best.heap:
            raise OutlineError(
                "most of the outlines lie on each other, so they are no floor: perhaps they are of "
                "several floors, or told from a place of their own each, or step by step; give "
                "places in one frame, of one floor" + self._listed(self.best.versions)
            )
        if self.shapes and not self.wanted:
            raise OutlineError(
                f"no outlines belong to key={self.key!r}; choose another, or none"
                + self._listed(self.shapes)
            )
        hint = (
            "give a text with at least three points a room" if not self.shapes
            else "if rooms are among these, choose them with key="
        )  # fmt: skip
        more = " (a packed part was left out, for it unpacks to too much)"
        raise OutlineError(
            f"no room outlines were found in the text; {hint}"
            + (more if self.budget.exceeded else "")
            + self._listed(self.shapes)
        )

    def tell_cut_off(self, rooms: Sequence[Shape]) -> None:
        """Warn who reads the rooms, if the text was cut off."""
        if why := told_cut_off(rooms, self.shapes, open_end=self.open_end):
            warnings.warn(why, CutOffWarning, stacklevel=3)

    def candidate(self, shape: Shape) -> Candidate:
        points = shape.found.points.copy()
        points.setflags(write=False)
        area = float("nan") if shape.polygon is None else float(shape.polygon.area)
        first, *way = shape.found.path or ("",)
        key = ".".join([without_level(first), *way])
        return Candidate(shape.name, key, self.line(shape), points, area, shape.chosen)

    def line(self, shape: Shape) -> int:
        """The line on which an outline begins."""
        if self._breaks is None:
            self._breaks = [found.start() for found in re.finditer("\n", self.plain)]
        line = bisect.bisect_left(self._breaks, shape.found.offset)
        return line + 1 if self.lines is None else self.lines[min(line, len(self.lines) - 1)]

    def _listed(self, shapes: Sequence[Shape]) -> str:
        """The candidates, a line each."""
        rows = []
        for shape in shapes[:_SHOWN]:
            one = self.candidate(shape)
            what = "cut off" if shape.found.cut or shape.unended else f"area {one.area:.4g}"
            if np.isnan(one.area):
                long = len(one.points) > MAX_POINTS
                what = f"more than {MAX_POINTS}" if long else "encloses nothing or crosses itself"
            key = f"key {one.key!r}, " if one.key else ""
            rows.append(f"\n  line {one.line}: {one.name!r}, {key}{len(one.points)} points, {what}")
        more = len(shapes) - len(rows)
        return "".join(rows) + (f"\n  and {more} more" if more else "")


def _matches(shape: Shape, key: str) -> bool:
    folded = key.casefold()
    clues = shape.found.clues
    beside = [clue.text.casefold() for clue in clues if clue.outside or labels(clue)]
    return folded in ".".join(shape.found.path).casefold() or folded in beside
