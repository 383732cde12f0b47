"""Words by what they stand for beside outlines, in a few languages."""

from __future__ import annotations

__all__ = [
    "BEFORE",
    "BEHIND",
    "CHANGE",
    "DRAWN",
    "IDS",
    "KINDS",
    "KNOWN",
    "LOG_LEVELS",
    "LONE_STOREY",
    "MEASURES",
    "NAMES",
    "NOT_HELD",
    "NOT_ROOM",
    "OPENING",
    "OUTLINE",
    "PLACES",
    "PLUMBING",
    "POSES",
    "RELATIVE",
    "REVISION",
    "ROOM",
    "STOREYS",
    "WAY",
    "WHICH_STOREY",
]


def _listed(words: str) -> list[str]:
    return words.split()


def _listed_set(words: str) -> frozenset[str]:
    return frozenset(words.split())


NAMES = _listed(
    """
    name label title caption room roomname raum raumname zimmer displayname alias bezeichnung
    nom nombre nome naam namn navn nazwa beschreibung description area zone segment space tag text
    """
)
IDS = _listed("id roomid uid uuid key nr no num number index idx nummer ref code")

ROOM = frozenset(
    _listed(
        """
        room rooms raum raeume räume zimmer chamber chambers piece pieces pièce pièces
        habitacion habitación habitaciones cuarto cuartos stanza stanze kamer kamers rum pokoj
        segment segments space spaces
        """
    )
)
OUTLINE = frozenset(
    _listed(
        """
        outline outlines polygon polygons poly contour contours boundary boundaries border
        borders perimeter shape shapes ring rings vertices vertex corners corner points point
        pts coordinates coords coord geometry geometries exterior outer area areas umriss
        umrisse kontur konturen polygone polygonzug ecken punkte grenze grenzen region regions
        cell cells wall walls edge edges hull loop loops verts footprint footprints
        """
    )
)
NOT_ROOM = frozenset(
    _listed(
        """
        forbidden restricted restriction restrictions nogo noentry keepout keepaway exclude excluded
        exclusion exclusions ban banned blocked avoid virtual barrier barriers fence fences
        hazard hazards danger nomop mopless sperrzone sperrzonen sperrbereich verboten gesperrt
        verbot interdit interdite zone zones zonen mask masks carpet carpets rug rugs teppich
        obstacle obstacles hindernis hindernisse furniture furnitures möbel door doors tür
        türen window windows fenster threshold thresholds schwelle icon icons bbox bounds
        extent extents box boxes viewport prohibited offlimits limits lockout stayout
        noway taboo tabu verbotszone verbotszonen sperrfläche sperrflächen hole cutout cutouts
        spot spots target targets goal goals
        """
    )
)
WAY = frozenset(
    _listed(
        """
        path paths trace traces track tracks trail trails trajectory trajectories route routes
        driven pose poses position positions odometry odom history travelled traveled travel weg
        pfad spur bahn fahrt fahrweg dock docks station charger charging ladestation scan scans
        lidar laser cleaned covered swept mopped vacuumed coverage progress ranges histogram
        pixels raster grid occupancy palette samples line lines
        """
    )
)
PLACES = _listed_set(
    "pose poses position positions dock docks station charger charging ladestation"
)
"""Which of these words are of a place; a room may be called by one."""

DRAWN = _listed_set(
    "px pixel pixels pix screen image picture canvas display viewport svg thumbnail"
)
PLUMBING = frozenset(
    _listed(
        """
        data payload result results params param value values msg message messages body content
        item items list map maps floor floors plan level home house building object objects
        feature features properties property attributes attribute geojson collection response
        request update updated changed event state status info debug warning error trace notice
        recv received rx tx in out set get new of for the is to from with and json xml text
        root doc document type multipolygon linearring linestring poslist pos array entry
        entries record records x y xy p pt d robot device log battery vacuum cleaner
        """
    )
)
CHANGE = _listed_set(
    "update updated delta change changed patch partial diff modified edited added new"
)
NOT_HELD = _listed_set(
    """
    previous prev prior before old older former backup backups archive archived obsolete deleted
    removed trash draft drafts candidate candidates proposal proposals proposed pending tentative
    """
)
REVISION = _listed_set("rev revision version ver generation edition")
RELATIVE = _listed_set(
    """
    delta deltas step steps move moves offset offsets increment increments diff diffs difference
    differences relative rel displacement displacements dx dy
    """
)
KINDS = _listed_set(
    "type kind category class topic channel layer event ev evt role method op"  # of what follows
)
MEASURES = _listed_set(
    """
    width height length w h radius r angle theta th hdg heading yaw phi direction time ts t
    timestamp duration temp temperature battery level rssi signal speed load count size area
    perimeter len weight conf confidence prob probability score min max mean mode fan water suction
    order seq minutes seconds hours percent colour color rev version
    bearing azimuth deg degrees range distance dist
    """
)
STOREYS = _listed_set(
    "floor level storey story etage stockwerk geschoss ebene floors levels storeys"
)
"""Words for a storey of a house."""

WHICH_STOREY = STOREYS | _listed_set(
    """
    ground upper lower first second third fourth top st nd rd th basement downstairs upstairs
    erdgeschoss obergeschoss untergeschoss dachgeschoss kellergeschoss eg og ug dg
    """
)
LONE_STOREY = _listed_set("ground upper downstairs upstairs eg og ug dg") | {
    word for word in WHICH_STOREY if word.endswith("geschoss") and word != "geschoss"
}
LOG_LEVELS = frozenset(("trace", "debug", "info", "notice", "warn", "warning", "error", "fatal"))
"""How loggers rank messages; their word for the lowest rank is also one for a path."""

POSES = _listed_set("pose pos position loc location odom odometry")
OPENING = _listed_set("begin begins start starts")
KNOWN = ROOM | OUTLINE | NOT_ROOM | WAY | PLUMBING | OPENING
BEHIND = (OUTLINE - _listed_set("area areas region regions cell cells wall walls edge edges")) | (
    _listed_set(
        """
        is at has updated changed added received finished saved stored completed created committed
        detected
        """
    )
)
BEFORE = BEHIND | PLUMBING | ROOM | OPENING
"""Words that may stand behind and before a name and are no part of it."""
