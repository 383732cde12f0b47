"""How a fit shows itself in a notebook: key figures, and the outlines where they lie."""

from __future__ import annotations

import base64
import html as html_text
from typing import TYPE_CHECKING

from regmap.outputs.summary import Summary

if TYPE_CHECKING:
    from regmap.registration import Registration

__all__ = ["html"]

_WIDTH = 480


def html(fit: Registration, image: object | None = None, *, width: int = _WIDTH) -> str:
    """Return a fit as an HTML fragment: figures in words, and below them a drawing.

    Args:
        fit: the fit to show.
        image: the picture it belongs to, in any shape that `regmap.register` takes. A fit does not
            keep its picture: without it the outlines stand on white.
        width: of the drawing, px.

    The whole proof picture, with its magnified corners, comes from `regmap.outputs.proof`. Where
    OpenCV or SciPy is missing, the figures come alone.

    Raises:
        PictureError: if the picture cannot be read.
        RegmapError: if the picture is not of the size that the fit was made with.
    """
    summary = Summary.of(fit)
    rows = [("confidence", summary.confidence), *summary.figures]
    rows += [("why not higher", reason) for reason in summary.reasons]
    rows += [("fits as well", other) for other in summary.others]
    cells = "".join(
        f'<tr><th style="text-align:left">{html_text.escape(name)}</th>'
        f'<td style="text-align:left">{html_text.escape(text)}</td></tr>'
        for name, text in rows
    )
    verdict = html_text.escape(summary.verdict)
    table = f"<table><caption><b>{verdict}</b></caption>{cells}</table>"
    return f"<div>{table}{_drawing(fit, image, width)}</div>"


def _drawing(fit: Registration, image: object | None, width: int) -> str:
    try:
        from regmap.outputs import drawing, own_picture, proof_views

        pixels = None
        if image is not None:
            pixels = own_picture.in_colour(own_picture.own_picture(fit, image))
        canvas = proof_views.overview(fit, pixels, width, width)
    except ImportError:
        return ""
    coded = base64.b64encode(drawing.encoded(canvas)).decode("ascii")
    return f'<img alt="the outlines on the picture" src="data:image/png;base64,{coded}"/>'
