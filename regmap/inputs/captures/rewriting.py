"""Texts as they are read: what carries them is taken away, and odd spellings made usual ones.

None of them looks at more than lines and signs, and lines keep their numbers.
"""

from __future__ import annotations

from regmap.inputs.captures.carriers import (
    changed,
    decoded,
    unbroken_cells,
    uncounted,
    undumped,
    unmixed,
    unprefixed,
)
from regmap.inputs.captures.cut_messages import made_whole
from regmap.inputs.captures.endings import without_cut_tag
from regmap.inputs.captures.heads import counted_heads, spoken_heads
from regmap.inputs.captures.octets import joined_octets
from regmap.inputs.captures.pairing import keyed_pairs, paired_rows, paired_values
from regmap.inputs.captures.pieces import reassembled
from regmap.inputs.captures.statements import inserted
from regmap.inputs.captures.streams import (
    announced,
    keyed_fields,
    plain_marks,
    rejoined,
    soft_broken,
    unbroken,
    unstreamed,
    with_points,
)
from regmap.inputs.captures.thousands import (
    unapostrophed,
    ungrouped,
    without_thousands_marks,
)

__all__ = ["rewritten"]

_REWRITTEN = (
    joined_octets,
    without_cut_tag,
    undumped, soft_broken, uncounted, changed, inserted, reassembled, made_whole, unprefixed,
    decoded, unmixed, unbroken, unbroken_cells, unstreamed, plain_marks, counted_heads,
    spoken_heads, keyed_pairs, paired_values, paired_rows, announced, unapostrophed,
    keyed_fields, without_thousands_marks, ungrouped, with_points, rejoined,
)  # fmt: skip
"""In this order: what stands around a text goes first."""


def rewritten(text: str) -> str:
    """Return a text as it is read."""
    for way in _REWRITTEN:
        text = way(text)
    return text
