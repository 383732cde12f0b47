"""What words beside an outline tell: is it a room, and which word names it?"""

from __future__ import annotations

import itertools
import re
import unicodedata
from functools import lru_cache

__all__ = ["axis", "id_rank", "is_plumbing", "name_rank", "stem", "votes", "words_of"]


def _listed(words: str) -> list[str]:
    return words.split()


_PARTS = re.compile(r"[^\W\d_]+?(?=[A-Z][a-z])|[^\W\d_]+")

_NAMES = _listed(
    """
    name label title caption room roomname raum raumname zimmer displayname alias bezeichnung
    nom nombre nome naam namn navn nazwa beschreibung description area zone segment tag text
    """
)
_IDS = _listed("id roomid uid uuid key nr no num number index idx nummer ref code segmentid")

_ROOM = frozenset(
    _listed(
        """
    room rooms raum raeume räume zimmer chamber chambers piece pieces pièce pièces habitacion
    habitaciones stanza stanze kamer kamers rum pokoj segment segments
        """
    )
)
_OUTLINE = frozenset(
    _listed(
        """
    outline outlines polygon polygons poly contour contours boundary boundaries border borders
    perimeter shape shapes ring rings vertices vertex corners corner points point pts
    coordinates coords coord geometry geometries exterior outer area areas umriss umrisse
    kontur konturen polygone polygonzug ecken punkte grenze grenzen region regions cell cells
    wall walls
        """
    )
)
_NOT_ROOM = frozenset(
    _listed(
        """
    forbidden restricted restriction restrictions nogo noentry keepout exclude excluded
    exclusion exclusions ban banned blocked avoid virtual barrier barriers fence fences hazard
    hazards danger nomop mopless sperrzone sperrzonen sperrbereich verboten gesperrt verbot
    interdit interdite zone zones zonen mask masks carpet carpets rug rugs teppich obstacle
    obstacles hindernis hindernisse furniture furnitures möbel door doors tür türen window
    windows fenster threshold thresholds schwelle icon icons bbox bounds extent extents box
    boxes viewport frame prohibited spot spots target targets goal goals
        """
    )
)
_WAY = frozenset(
    _listed(
        """
    path paths trace traces track tracks trail trails trajectory trajectories route routes
    driven pose poses position positions odometry history travelled traveled travel weg pfad
    spur bahn fahrt fahrweg dock docks station charger charging ladestation robot scan scans
    lidar laser ranges histogram pixels raster grid occupancy palette battery samples log line
    lines
        """
    )
)
_PLUMBING = frozenset(
    _listed(
        """
    data payload result results params param value values msg message messages body content
    item items list map maps floor floors plan level home house building object objects feature
    features properties property attributes attribute geojson collection response request
    update updated changed event state status info debug warning error trace notice recv
    received rx tx in out set get new of for the is to from with and json xml text root doc
    document type multipolygon linearring linestring poslist pos array entry entries record
    records x y xy p pt d
        """
    )
)
_AXIS = re.compile(
    r"(?:pos|coord|punkt|point|p|pt)?[_\W]*([xy])(?:[_\W]*(?:pos|coord|mm|cm|m|px|koordinate|value))?"
    r"|(?:.*[_\W])([xy])\Z",
    re.IGNORECASE,
)
_COMPASS = {"lon": "x", "lng": "x", "long": "x", "longitude": "x", "east": "x", "easting": "x"}
_COMPASS |= {"lat": "y", "latitude": "y", "north": "y", "northing": "y"}


@lru_cache(maxsize=4096)
def words_of(text: str) -> tuple[str, ...]:
    """Return the words of a key in small letters: `roomOutline_2` gives room, outline."""
    return tuple(part.lower() for part in _PARTS.findall(unicodedata.normalize("NFC", text)))


@lru_cache(maxsize=4096)
def votes(text: str) -> tuple[int, int, int, int]:
    """Count words for a room, for an outline, for what is no room, and for a way or a place."""
    words = words_of(text)
    whole = "".join(words)
    joined = [a + b for a, b in itertools.pairwise(words)]
    bag = {*words, *joined, whole}
    return (
        len(bag & _ROOM),
        len(bag & _OUTLINE),
        len(bag & _NOT_ROOM),
        len(bag & _WAY),
    )


@lru_cache(maxsize=4096)
def is_plumbing(key: str) -> bool:
    """Whether a key says what kind of thing follows, and so is nobody's name."""
    words = words_of(key)
    known = _ROOM | _OUTLINE | _NOT_ROOM | _WAY | _PLUMBING
    return all(word in known for word in words) and not any(c.isdigit() for c in key)


@lru_cache(maxsize=4096)
def name_rank(key: str) -> int | None:
    """How surely what follows a key is a name, 0 the surest; None if it is not known."""
    whole = "".join(words_of(key))
    if whole in _NAMES:
        return _NAMES.index(whole)
    if whole.endswith(("name", "label", "title")):
        return len(_NAMES)
    return None


@lru_cache(maxsize=4096)
def id_rank(key: str) -> int | None:
    """How surely what follows a key identifies something; None if it is not known."""
    words = words_of(key)
    if not words:
        return None
    whole = "".join(words)
    if whole in _IDS:
        return _IDS.index(whole)
    return len(_IDS) if words[-1] in ("id", "uid", "uuid", "nr") else None


@lru_cache(maxsize=4096)
def axis(key: str) -> str | None:
    """Return "x" or "y" if a key names that coordinate."""
    if (compass := _COMPASS.get(key.lower())) is not None:
        return compass
    found = _AXIS.fullmatch(key)
    return (found[1] or found[2]).lower() if found else None


@lru_cache(maxsize=4096)
def stem(key: str | None) -> str:
    """Return a key without the number at its end: p1, p2, p3 are of one kind."""
    return "" if key is None else key.rstrip("0123456789").rstrip("_-. #")
