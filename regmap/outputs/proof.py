"""The proof picture: what a person looks at before a fit is used.

Left, the picture with the outlines laid on it, coloured by their distance from the drawn borders.
Right, four room corners far apart, magnified until half a pixel can be seen, and the predicted
error over the floor. Above, the verdict in words: a doubtful fit says so, and not by colour alone.
"""

from __future__ import annotations

import os

import cv2
import numpy as np

from regmap.caution import CAUTION
from regmap.given import instance
from regmap.outputs import drawing, proof_views, whole_files
from regmap.outputs.drawing import WHITE, Image
from regmap.outputs.own_picture import in_colour, own_picture
from regmap.outputs.summary import Summary
from regmap.registration import Registration

__all__ = ["png", "proof_picture", "write_proof"]

_WIDTH, _MARGIN = 1640, 24
_RIGHT = 2 * proof_views.MAGNIFICATION * proof_views.TILE_PX + 16
_LEFT = _WIDTH - 3 * _MARGIN - _RIGHT
_TEXT = 15
_GREY = (90, 90, 90)


def proof_picture(fit: Registration, image: object | None = None) -> Image:
    """Draw the proof picture of a fit.

    Args:
        fit: the fit to show.
        image: the picture it belongs to, in any shape that `regmap.register` takes. Without it the
            outlines stand on white and no corner is magnified.

    Returns:
        (H, W, 3) uint8 RGB, 1640 px wide.

    Raises:
        PictureError: if the picture cannot be read.
        RegmapError: if the picture is not of the size that the fit was made with.

    Room names are drawn in full with OpenCV 5; OpenCV 4 has ASCII alone, so that accents are
    dropped there and letters without an ASCII likeness become '?'.
    """
    instance(fit, Registration, "fit")
    pixels = None if image is None else in_colour(own_picture(fit, image))
    summary = Summary.of(fit)
    left = _stacked(
        [
            proof_views.overview(fit, pixels, _LEFT, 1100),
            _residual_scale(fit, _LEFT),
            _notes(summary, _LEFT),
        ]
    )
    right = _stacked(
        [
            _caption("Room corners, magnified: the line should run along the drawn border", _RIGHT),
            proof_views.corner_tiles(fit, pixels, _RIGHT),
            _tile_legend(_RIGHT),
            _caption(f"Predicted error: 95 % of true errors are smaller ({fit.unit})", _RIGHT),
            proof_views.error_map(fit, _RIGHT, 260),
        ]
    )
    tall = max(left.shape[0], right.shape[0])
    body = np.full((tall, _WIDTH, 3), 255, np.uint8)
    body[: left.shape[0], _MARGIN : _MARGIN + _LEFT] = left
    body[: right.shape[0], _WIDTH - _MARGIN - _RIGHT : _WIDTH - _MARGIN] = right
    return _stacked([_header(fit, summary), body, _footer()], gap=16)


def png(fit: Registration, image: object | None = None) -> bytes:
    """Return the proof picture as the bytes of a PNG file."""
    return drawing.encoded(proof_picture(fit, image))


def write_proof(
    fit: Registration,
    image: object | None,
    path: str | os.PathLike[str],
    *,
    overwrite: bool = False,
) -> None:
    """Write the proof picture as a PNG file, whole or not at all.

    Raises:
        StoredFileError: if the file is there already and `overwrite` is False, or cannot be
            written.
    """
    whole_files.write_whole(path, png(fit, image), overwrite=overwrite)


def _stacked(parts: list[Image], gap: int = 8) -> Image:
    between = np.full((gap, parts[0].shape[1], 3), 255, np.uint8)
    rows = [piece for part in parts for piece in (part, between)]
    return np.concatenate(rows[:-1], axis=0)


def _blank(height: int, width: int) -> Image:
    return np.full((height, width, 3), 255, np.uint8)


def _caption(text: str, width: int) -> Image:
    canvas = _blank(22, width)
    drawing.write(canvas, text, 0, 16, size=_TEXT, bold=True)
    return canvas


def _header(fit: Registration, summary: Summary) -> Image:
    rows: list[tuple[str, str, bool]] = []
    for name, text in (("confidence", summary.confidence), *summary.figures):
        for line in drawing.wrapped(text, _WIDTH - 2 * _MARGIN - 160, size=_TEXT):
            rows.append((name, line, name == "confidence"))
            name = ""
    canvas = _blank(52 + 22 * len(rows), _WIDTH)
    _banner(canvas, fit, summary.verdict)
    for index, (name, line, bold) in enumerate(rows):
        base = 70 + 22 * index
        drawing.write(canvas, name, _MARGIN, base, size=_TEXT, colour=_GREY)
        drawing.write(canvas, line, _MARGIN + 160, base, size=_TEXT, bold=bold)
    return canvas


def _banner(canvas: Image, fit: Registration, verdict: str) -> None:
    if not fit.doubtful:
        canvas[:46] = (225, 232, 238)
        drawing.write(canvas, verdict, _MARGIN, 32, size=24, bold=True)
        return
    canvas[:46] = (40, 40, 40)
    for start in range(-46, _WIDTH, 40):  # striped, as at road works: seen before it is read
        band = np.array([[start, 46], [start + 12, 46], [start + 24, 34], [start + 12, 34]])
        cv2.fillPoly(canvas, [drawing.fixed(band.astype(np.float64))], WHITE, cv2.LINE_AA, 6)
    drawing.write(canvas, verdict, _MARGIN, 27, size=24, colour=WHITE, bold=True)


def _residual_scale(fit: Registration, width: int) -> Image:
    canvas = _blank(44, width)
    title = "Distance of the line from the drawn border"
    drawing.write(canvas, title, 0, 18, size=_TEXT, bold=True)
    left = drawing.text_width(title, size=_TEXT, bold=True) + 18
    bar = 220
    canvas[6:20, left : left + bar] = drawing.ramp(np.linspace(0, 1, bar))[None]
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        value = share * proof_views.RESIDUAL_TOP_PX
        text = f"{value:g} px" + (" or more" if share == 1 else "")
        drawing.write(canvas, text, left + share * bar - 8, 36, size=12)
    at = left + bar + 90
    drawing.stroke(canvas, np.array([[at, 13.0], [at + 40, 13.0]]), (120, 120, 120), 1)
    drawing.write(canvas, "no edge found there", at + 48, 18, size=13)
    if len(fit.rooms) > proof_views.CROWD:
        drawing.write(canvas, "! this room does not agree", at + 48, 38, size=13)
    return canvas


def _tile_legend(width: int) -> Image:
    canvas = _blank(22, width)
    drawing.stroke(canvas, np.array([[0.0, 12], [36, 12]]), drawing.ORANGE, 2)
    text = "where the fit expects the drawn border"
    drawing.write(canvas, text, 44, 16, size=13)
    left = 44 + drawing.text_width(text, size=13) + 20
    for start in (0, 15, 30):
        line = np.array([[left + start, 12.0], [left + start + 8, 12.0]])
        drawing.stroke(canvas, line, drawing.BLUE, 2)
    drawing.write(canvas, "the outline itself", left + 46, 16, size=13)
    return canvas


def _notes(summary: Summary, width: int) -> Image:
    lines: list[tuple[str, bool]] = []
    for title, texts in (
        ("Why the confidence is not higher", summary.reasons),
        ("What fits as well", summary.others),
    ):
        if texts:
            lines.append((title, True))
        for text in texts:
            parts = drawing.wrapped(text, width - 20, size=_TEXT)
            lines += [(("- " if i == 0 else "  ") + part, False) for i, part in enumerate(parts)]
    canvas = _blank(max(1, 22 * len(lines)), width)
    for index, (text, bold) in enumerate(lines):
        drawing.write(canvas, text, 0, 16 + 22 * index, size=_TEXT, bold=bold)
    return canvas


def _footer() -> Image:
    lines = drawing.wrapped(CAUTION, _WIDTH - 2 * _MARGIN, size=_TEXT)
    canvas = _blank(12 + 22 * len(lines), _WIDTH)
    for index, text in enumerate(lines):
        drawing.write(canvas, text, _MARGIN, 16 + 22 * index, size=_TEXT, colour=_GREY)
    return canvas
