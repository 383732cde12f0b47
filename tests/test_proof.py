"""The proof picture shows the truth: lines where the fit says, colours by residual, doubt said."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from affine import Affine
from numpy.typing import NDArray

from regmap.areas.floor import floor_points
from regmap.errors import RegmapError, StoredFileError
from regmap.outputs import drawing, folder, proof, proof_views
from regmap.outputs.summary import Summary, floor_error, quantity
from regmap.registration import Registration, RoomFit
from tests.fit_examples import make_fit

Image = NDArray[np.uint8]


def _coverage(size: int, low: float, high: float) -> NDArray[np.float64]:
    """Return the share (size,) of each pixel between two positions, counted from corners."""
    edges = np.clip(np.arange(size + 1), low, high)
    return np.asarray(np.diff(edges), dtype=np.float64)


def _scene(
    low: tuple[float, float], high: tuple[float, float], size: tuple[int, int], dark: bool = False
) -> Image:
    """Draw an upright rectangle, exact to a fraction of a pixel: tones are mixed by share."""
    share = np.outer(_coverage(size[1], low[1], high[1]), _coverage(size[0], low[0], high[0]))
    ground, room = (25, 90) if dark else (245, 170)
    grey = np.rint(ground + (room - ground) * share)
    return np.repeat(grey[..., None], 3, axis=2).astype(np.uint8)


def _fit(low: tuple[float, float], high: tuple[float, float], **changes: Any) -> Registration:
    """Return a fit at 10 mm a pixel, whose one room is drawn from `low` to `high` in px."""
    (c0, r0), (c1, r1) = low, high
    px = np.array([[c0, r0], [c0, r1], [c1, r1], [c1, r0]])
    transform = Affine(10, 0, 0, 0, -10, 0)
    after = np.roll(px, -1, 0)
    sides = [np.linspace(a, b, 40, endpoint=False) for a, b in zip(px, after, strict=True)]
    samples = np.concatenate(sides)
    fields: dict[str, Any] = {
        "transform": transform,
        "wall_offset": 0.0,
        "outlines": {"kiln": (px * (10, -10),)},
        "rooms": (RoomFit("kiln", "agrees", 0.99, 0.1, 1.0, 1.0, ((c0 + c1) / 2, (r0 + r1) / 2)),),
        "reasons": (),
        "residuals": np.column_stack([samples, np.zeros(len(samples))]),
        "image_size": (200, 120),
        "anchor_px": ((c0 + c1) / 2, (r0 + r1) / 2),
    }
    return make_fit(**{**fields, **changes})


def _orange(canvas: Image) -> NDArray[np.float64]:
    """Return how much of the line's colour is in each pixel; greys hold none of it."""
    rgb = canvas.astype(np.float64)
    return np.asarray(np.maximum(rgb[..., 0] - rgb[..., 2], 0))


@pytest.mark.parametrize("at", [10.0, 10.25, 10.5, 10.75])
@pytest.mark.parametrize("width", [1, 2, 3])
def test_a_line_lies_where_it_was_put(at: float, width: int) -> None:
    """The centre of a line's ink is its position, counted from the canvas' outer corner."""
    for transposed in (False, True):
        canvas = np.zeros((40, 40, 3), np.uint8)
        line = np.array([[at, 3.0], [at, 37.0]])
        drawing.stroke(canvas, line[:, ::-1] if transposed else line, drawing.WHITE, width)
        ink = (canvas[:, 20] if transposed else canvas[20])[:, 0].astype(float)
        centre = (ink * (np.arange(40) + 0.5)).sum() / ink.sum()
        # OpenCV rounds the sides of wide level lines outwards a little.
        assert centre == pytest.approx(at, abs=0.05 if width == 1 else 0.17)


def test_dashes_cover_a_ring_within_its_sides() -> None:
    ring = np.array([[0.0, 0], [30, 0], [30, 20], [0, 20]])
    pieces = np.array(list(drawing.dashes(ring, 5, 4)))
    lengths = np.hypot(*(pieces[:, 1] - pieces[:, 0]).T)
    assert lengths.max() <= 30
    assert 0.4 * 100 < lengths.sum() < 0.75 * 100
    for corner in ring:  # every corner is inked, else it could not be judged
        assert np.hypot(*(pieces.reshape(-1, 2) - corner).T).min() == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize("shift", [0.0, 0.5])
def test_a_tile_shows_half_a_pixel(dark: bool, shift: float) -> None:
    """In the magnified tile the distance of line and drawn border is the fit's error times 16.

    The border's place is measured from the tile's own pixels: a mixed pixel says by its tone how
    much of it the room covers.
    """
    low, high = (40.3, 30.7), (150.6, 95.2)
    image = _scene(low, high, (200, 120), dark)
    fit = _fit((low[0] + shift, low[1] + shift), (high[0] + shift, high[1] + shift))
    corners = proof_views.corners_far_apart(fit)
    assert len(corners) == 4
    tiles = proof_views.corner_tiles(fit, image, 560)
    size = proof_views.MAGNIFICATION * proof_views.TILE_PX
    for index, (_, at) in enumerate(corners):
        left = (index % 2) * (560 - size)
        top = (index // 2) * (size + 26) + 20
        tile = tiles[top : top + size, left : left + size]
        # A row of the tile half-way between its border and the corner, on the room's side.
        inwards = 1 if at[1] < 60 else -1
        row = size // 2 + inwards * 5 * proof_views.MAGNIFICATION + 8
        ink = _orange(tile[row])
        line = (ink * (np.arange(size) + 0.5)).sum() / ink.sum()
        # Each magnified pixel is read where the line does not cover it.
        places = np.arange(proof_views.TILE_PX)[:, None] * 16 + [3, 12]
        clear = np.argmax(np.abs(places - line), axis=1)
        tones = tile[row, places[np.arange(len(places)), clear], 0].astype(float)
        share = (tones - tones[-1]) / (tones[0] - tones[-1])
        border = float(np.clip(share, 0, 1).sum()) * proof_views.MAGNIFICATION
        assert line - border == pytest.approx(16 * shift, abs=1.0)  # 1/16 px


@pytest.mark.parametrize(("size", "enlarged"), [((200, 120), True), ((2400, 1440), False)])
def test_the_overview_keeps_lines_and_picture_together(
    size: tuple[int, int], enlarged: bool
) -> None:
    """Enlarged or reduced, the outline's line lies on the border that the picture shows.

    The picture's border runs past the outline, so that its place can be read beside the line.
    """
    scale = size[0] / 200
    low, high = (60.25 * scale, 40.0 * scale), (150.0 * scale, 80.0 * scale)
    image = _scene((low[0], -1), (high[0], size[1] + 1), size)
    fit = _fit(low, high, image_size=size)
    canvas = proof_views.overview(fit, image, 1000, 800).astype(float)
    # The window starts 0.3 times the longer side before the outlines.
    left = np.floor(low[0] - 0.3 * (high[0] - low[0]))
    shown = (np.ceil(high[0] + 0.3 * (high[0] - low[0])) - left) / 1000
    beside, through = canvas[8, :500], canvas[int(0.38 * len(canvas)), :500]  # above the name
    share = (beside[:, 0] - beside[0, 0]) / (beside[-1, 0] - beside[0, 0])
    border = 500 - share.sum()
    dark = through[:, 0].min()
    ink = through.max(axis=1) - through.min(axis=1)  # the picture is grey, the line is not
    line = (ink * (np.arange(500) + 0.5)).sum() / ink.sum()
    assert dark < 90  # a residual of 0 is dark purple
    assert bool(shown < 1) is enlarged
    assert line == pytest.approx(border, abs=0.5)
    assert border == pytest.approx((low[0] - left) / shown, abs=0.6)


def test_colours_tell_good_from_bad_and_from_unknown() -> None:
    """A side with residuals of 2 px is yellow, a good one dark purple, one without edges grey."""
    fit = _fit((40, 30), (150, 90))
    samples = fit.residuals.copy()
    samples[samples[:, 0] > 149.5, 2] = 2.5
    samples = samples[samples[:, 1] < 89.5]
    fit = _fit((40, 30), (150, 90), residuals=samples)
    view_px = 1000 / (np.ceil(150 + 33) - np.floor(40 - 33))
    canvas = proof_views.overview(fit, None, 1000, 900)

    def colour(column: float, row: float) -> list[int]:
        x, y = (column - 7) * view_px, (row - 0) * view_px
        around = canvas[round(y) - 1 : round(y) + 1, round(x) - 1 : round(x) + 1]
        return [int(v) for v in around.reshape(-1, 3).mean(axis=0)]

    # Viridis' ends as published by its authors (from memory): (68, 1, 84) and (253, 231, 37).
    assert colour(40, 60) == pytest.approx([68, 1, 84], abs=12)
    assert colour(150, 60) == pytest.approx([253, 231, 37], abs=12)
    red, green, blue = colour(95, 90)
    assert max(red, green, blue) - min(red, green, blue) < 6


def test_the_colour_scale_grows_lighter_evenly() -> None:
    """Readable in grey, and so with any kind of colour vision."""
    colours = drawing.ramp(np.linspace(0, 1, 32)).astype(float)
    assert (np.diff(colours @ [0.299, 0.587, 0.114]) > 1.5).all()
    assert (drawing.ramp(np.array([np.nan])) == 128).all()


def test_the_error_map_is_lightest_where_the_error_is_largest() -> None:
    fit = _fit((40, 30), (150, 90), anchor_px=(45.0, 35.0), covariance=np.diag([1, 1, 4.0] * 2))
    canvas = proof_views.error_map(fit, 560, 260).astype(float)
    tall, wide = np.nonzero((canvas[..., 0] < 250).any(axis=1))[0].max(), 470
    light = canvas @ [0.299, 0.587, 0.114]
    rows, columns = np.array([15, tall // 2, tall - 15]), np.array([15, wide // 2, wide - 15])
    diagonal = light[rows, columns]
    assert diagonal[0] < diagonal[1] < diagonal[2]


def _words(monkeypatch: pytest.MonkeyPatch, fit: Registration, image: Image | None) -> str:
    words: list[str] = []
    put = drawing._put

    def listen(canvas: Image, text: str, *rest: Any) -> None:
        words.append(text)
        put(canvas, text, *rest)

    monkeypatch.setattr(drawing, "_put", listen)
    proof.proof_picture(fit, image)
    return "\n".join(words)


def test_doubt_is_said_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    low, high = (40.0, 30.0), (150.0, 90.0)
    room = RoomFit("kiln", "disagrees", 0.4, 2.0, 0.2, 1.0, (95.0, 60.0))
    other = _fit(low, high, transform=Affine(-10, 0, 1900, 0, -10, 0))
    reason = "the kiln's walls lie elsewhere: give a tie point there"
    doubtful = _fit(
        low, high, confidence=0.55, rooms=(room,), alternatives=(other,), reasons=(reason,)
    )
    words = _words(monkeypatch, doubtful, _scene(low, high, (200, 120)))
    for part in ("DOUBTFUL", "0.55", "(DISAGREES)", reason, "mirrored", "no safety barrier"):
        assert part in words
    words = _words(monkeypatch, _fit(low, high), _scene(low, high, (200, 120)))
    assert "DOUBTFUL" not in words
    assert "The outlines fit this picture" in words


def test_long_lists_are_wrapped(monkeypatch: pytest.MonkeyPatch) -> None:
    names = [f"cabinet {number}" for number in range(60)]
    rooms = tuple(RoomFit(n, "disagrees", 0.4, 2.0, 0.2, 1.0, (-9.0, -9.0)) for n in names)
    reason = "the walls of many cabinets lie elsewhere and nobody knows why " * 5
    words = _words(monkeypatch, _fit((40, 30), (150, 90), rooms=rooms, reasons=(reason,)), None)
    assert all(drawing.text_width(line, size=15) < 1440 for line in words.splitlines())
    said = " ".join(words.split())
    assert all(name in said for name in names[:15])
    assert "cabinet 14 and 45 more" in said


def test_a_crowded_floor_is_named_in_small_letters(monkeypatch: pytest.MonkeyPatch) -> None:
    places = [(45.0 + 4 * column, 35.0 + 8 * row) for row in range(6) for column in range(6)]
    rooms = tuple(
        RoomFit(f"n{i}", "disagrees" if i == 5 else "agrees", 0.9, 0.1, 0.9, 1.0, place)
        for i, place in enumerate(places)
    )
    fit = _fit((40, 30), (150, 90), rooms=rooms)
    words = _words(monkeypatch, fit, _scene((40, 30), (150, 90), (200, 120))).splitlines()
    assert "! n5" in words
    assert "! this room does not agree" in words
    assert sum(word in {f"n{i}" for i in range(36)} for word in words) > 25


def test_figures_are_on_the_picture(monkeypatch: pytest.MonkeyPatch) -> None:
    fit = _fit((40, 30), (150, 90))
    error = floor_error(fit)
    words = _words(monkeypatch, fit, None)
    assert f"{fit.reprojection_error:.2f} px RMSE" in words
    assert quantity(error.median, "mm") in words
    assert quantity(error.worst, "mm") in words
    assert "no corner of a room can be shown" in words  # there is no picture to magnify


def test_floor_error_is_taken_over_the_rooms_alone() -> None:
    """Holes do not count, and the figures are those of a dense grid."""
    fit = make_fit()
    points = fit.to_device(floor_points(fit, 4000))
    in_hole = ((points > 1000) & (points < 1400)).all(axis=1)
    assert not in_hole.any()
    area = 4000 * 2000 + 2500 * 2500 - 400 * 400 + 2800 * 2000
    assert len(points) == pytest.approx(4000 * area / (7000 * 4500), rel=0.03)
    errors = fit.expected_error(fit.to_image(points))
    error = floor_error(fit)
    assert error.least <= error.median <= error.worst
    assert error.worst == pytest.approx(errors.max(), rel=0.02)
    assert error.median == pytest.approx(np.median(errors), rel=0.02)


def test_summary_names_what_disagrees_and_what_else_fits() -> None:
    half_turn = Affine(-20, 0, 11800, 0, 20, -3600)  # (c, r) -> (640 - c, 480 - r), then upright
    turned = make_fit(transform=half_turn)
    summary = Summary.of(make_fit(alternatives=(turned,)))
    assert summary.verdict.startswith("DOUBTFUL")
    assert "turned by" in summary.others[0]
    assert "180" in summary.others[0]
    assert dict(summary.figures)["rooms"] == "1 of 2 agree; not shown: hall"
    assert (
        dict(summary.figures)["wall offset"] == "the outlines lie 12 mm outside the drawn borders"
    )


@pytest.mark.parametrize(
    ("text", "ascii_text"),
    [
        ("Töpferstube", "Topferstube"),
        ("Łazienka", "Lazienka"),
        ("Straße 5 × 3", "Strasse 5 x 3"),
        ("工房", "??"),
    ],
)
def test_names_without_a_font_fall_back_to_ascii(text: str, ascii_text: str) -> None:
    assert drawing.plain(text) == ascii_text


def test_any_name_can_be_drawn() -> None:
    low, high = (40.0, 30.0), (150.0, 90.0)
    names = ("Töpferei", "工房", "غرفة", "", "x" * 300, "a\nb", "\ud800", "\x00", "😀")
    rooms = tuple(RoomFit(n, "agrees", 1.0, 0.1, 1.0, 1.0, (95.0, 60.0)) for n in names)
    rings = _fit(low, high).outlines["kiln"]
    fit = _fit(low, high, rooms=rooms, outlines=dict.fromkeys(names, rings))
    assert proof.proof_picture(fit, _scene(low, high, (200, 120))).shape[1] == 1640


@pytest.mark.parametrize("size", [(9, 8), (200, 120), (120, 2500), (5200, 300)])
def test_pictures_of_any_size(size: tuple[int, int]) -> None:
    low, high = (1.5, 1.5), (size[0] - 1.5, size[1] - 1.5)
    image = _scene(low, high, size)
    picture = proof.proof_picture(_fit(low, high, image_size=size), image)
    assert picture.dtype == np.uint8
    assert picture.shape[1] == 1640
    assert 300 < picture.shape[0] < 2200


def test_a_fit_far_outside_the_picture_can_be_looked_at() -> None:
    fit = _fit((4000, 3000), (5000, 3600), residuals=np.empty((0, 3)))
    assert proof.proof_picture(fit, _scene((1, 1), (5, 5), (200, 120))).shape[1] == 1640


def test_grey_and_colour_pictures_give_the_same(tmp_path: Path) -> None:
    low, high = (40.3, 30.7), (150.6, 95.2)
    image, fit = _scene(low, high, (200, 120)), _fit(low, high)
    assert np.array_equal(
        proof.proof_picture(fit, image), proof.proof_picture(fit, image[..., 0].copy())
    )
    assert proof.png(fit, image) == proof.png(fit, image)


def test_another_picture_is_refused() -> None:
    with pytest.raises(RegmapError, match=r"100 x 60 px.*200 x 120 px.*unscaled"):
        proof.proof_picture(_fit((40, 30), (150, 90)), np.zeros((60, 100, 3), np.uint8))


def test_written_proof_reads_back_in_rgb(tmp_path: Path) -> None:
    fit = _fit((40, 30), (150, 90))
    proof.write_proof(fit, None, tmp_path / "p.png")
    back = cv2.imread(str(tmp_path / "p.png"), cv2.IMREAD_COLOR)
    assert back is not None
    assert np.array_equal(back[..., ::-1], proof.proof_picture(fit))
    with pytest.raises(StoredFileError, match="already"):
        proof.write_proof(fit, None, tmp_path / "p.png")


def test_fit_and_proof_are_written_together_or_not_at_all(tmp_path: Path) -> None:
    low, high = (40.0, 30.0), (150.0, 90.0)
    image, fit = _scene(low, high, (200, 120)), _fit(low, high)
    place = tmp_path / "new" / "folder"
    with pytest.raises(RegmapError, match="px"):
        folder.write_fit(fit, np.zeros((60, 100), np.uint8), place)
    assert not place.exists()
    files = folder.write_fit(fit, image, place)
    assert [path.name for path in files] == sorted(
        (path.name for path in place.iterdir()), reverse=True
    )
    assert Registration.load(files[0]).same_as(fit)
    files[0].unlink()
    with pytest.raises(StoredFileError, match=r"proof\.png would be overwritten"):
        folder.write_fit(fit, image, place)
    assert [path.name for path in place.iterdir()] == ["proof.png"]
    folder.write_fit(fit, image, place, overwrite=True)
    assert len(list(place.iterdir())) == 2


def test_a_file_in_the_place_of_the_folder(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("x")
    with pytest.raises(StoredFileError, match="name of a folder"):
        folder.write_fit(_fit((40, 30), (150, 90)), None, tmp_path / "taken")
