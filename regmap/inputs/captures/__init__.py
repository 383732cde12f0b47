"""Room outlines in nearly any text; `reading` tells a text's way through the modules here."""

from regmap.inputs.captures.reading import (
    MAX_BYTES,
    Candidate,
    list_candidates,
    parse_outlines,
    read_outlines,
)

__all__ = ["MAX_BYTES", "Candidate", "list_candidates", "parse_outlines", "read_outlines"]
