"""The tokens of any text, as compiled patterns: none of them goes over a text more than once.

Repetitions are possessive wherever more than one way of matching could be tried. What may run on
and then not be what it seemed begins only where such a run begins, or looks only so far. So no
text, however odd, takes more than linear time.
"""

from __future__ import annotations

import re

from regmap.inputs.captures.drawn import PATH_DATA
from regmap.inputs.captures.numerals import NUMBER, PURE

__all__ = [
    "ADJACENT",
    "ALIKE",
    "ATTRIBUTE",
    "CLOCK",
    "CLOSERS",
    "COMMENT",
    "DASH",
    "DUMPED_WORDS",
    "FIELD",
    "FOLD",
    "GOES_ON",
    "HEADING",
    "INDENT",
    "IN_BRACKETS",
    "IN_LINE",
    "JOINED",
    "KEY",
    "LEAF",
    "LOCAL",
    "LOCAL_NUMBER",
    "MATCHING",
    "NUMBERED",
    "OPENERS",
    "ORDINAL",
    "OTHER_UNIT",
    "PATH",
    "PREFIX",
    "RECORD",
    "STAMPED",
    "STEP",
    "STRUCTURED",
    "TOPIC",
    "WRAPPED",
]

# --- quotes, words and keys ---

_FOLD = r"\r?\n[ \t]++(?=\S)"  # a quoted text may go on below, indented
_OWN = r"(?<=\w)'(?=[ ]?[^\W\d_][\w .-]{0,30}(?<=\w)'(?:[\s,;:)\]}]|\Z))"  # Kids', Mum's
_QUOTED = (
    rf'"(?:[^"\\\r\n]|\\[\s\S]|{_FOLD})*+"'
    rf"|(?<![\w'])'(?:[^'\\\r\n]|\\[\s\S]|''|{_OWN}|{_FOLD})*+'(?!\w)"
    r"|(?<![\w`])`[^`\r\n]*+`(?![\w`])"
)
_PLAIN = r"[^\s\[\](){}<>\"',;:=|&\\]"
_BARE = rf"{_PLAIN}++(?:'(?=[\s\w]){_PLAIN}*+)*+"
_KEYWORD = r":[^\W\d][\w-]*+(?=\s)"  # of Lisp and its kin
_ASSIGN = rf"(?:[ \t]*+(?:=>|->|:=|=(?!=))|[ \t]*+(?!(?<=\s){_KEYWORD}):(?!//))"
_LITERAL = r"(?:[bB][rR]?|[rR][bB]?|[uU])(?=\"|'[^'\n]*+')"  # Python's b'...', not B's
_NEXT = (  # one more word of a phrase, if it is not the key of what follows
    rf"[ ](?:[&+/][ ])?(?!{_LITERAL})[^\W\d_](?:(?!%){_PLAIN}){{0,22}}+"
    rf"(?!{_PLAIN}|'|\[[\d\"']|{_ASSIGN})"
)
_STEPS = r"\[(?:[\w-]++|\"[^\"\n\]]*+\"|'[^'\n\]]*+')\][\w.]*+"
_SUBSCRIPT = rf"{_PLAIN}++(?:{_STEPS}){{1,16}}+"
_ANCHOR = (  # of YAML: a name for a value (&), or the name in its place (*)
    r"(?<![^\s,\[{(:-])(?:&\w++(?=\s)|\*\w++(?=[ \t\r]*+(?:[,\]}\n]|\Z)))"
)

LOCAL_NUMBER = r"[-+]?\d++(?:,\d++)?+(?![\w.])"
"""A number with a comma before its fraction, or between thousands."""

# --- numbers that are no coordinates ---

_TIME = r"\d\d?:\d\d(?::\d\d(?:[.,:]\d++)?)?(?:Z|[ ]?[+-]\d\d:?\d\d)?+"
_MONTH = r"(?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)[a-z]*+"
CLOCK = (
    rf"\d{{4}}[-/.]\d\d?[-/.]\d\d?(?:(?:T|,?[ ]++){_TIME})?"
    rf"|\d\d?[./]\d\d?[./]\d{{2,4}}(?:,?[ ]{_TIME})?|{_TIME}(?!:)"
    rf"|\d\d-\d\d[ ]{_TIME}|{_MONTH}[ ]++\d\d?[ ]{_TIME}|\d\d?/{_MONTH}/\d{{4}}:{_TIME}"
)
_ADDRESS = r"\d++(?:\.\d++){2,}+(?::\d++)?|(?:[0-9A-Fa-f]{2}[:-]){5}[0-9A-Fa-f]{2}"

_LINKS = "to|then|and|via|finally|bis|dann|und|nach|zu|puis|vers|et|naar|dan|en|hasta|luego|y"
"""What people write between the corners of an outline."""

# --- elements ---

_TAG = (
    r"<(?P<tag>[^\W\d][\w:.-]*+)"
    r"(?P<attributes>(?:\s++[\w:.-]++\s*+=\s*+(?:\"[^\"<]*+\"|'[^'<]*+'|[^\s\"'=<>`]++))*+)"
    r"\s*+(?P<empty>/?)>"
)


def _tokens(space: str) -> re.Pattern[str]:
    """The pattern of any token; `space`: what may stand between numbers of one run."""
    gap = rf"(?:{space}*+[,;]{space}*+|{space}++)"
    number = rf"{NUMBER}(?![\w.]|{_ASSIGN})"
    in_line = r"(?![ \t]*+[-=]>)" if space != r"\s" else ""
    more = rf"{NUMBER}(?![\w.]|{in_line}{_ASSIGN})"  # 1,2 3,4 -> hall
    links = rf"(?:(?:{_LINKS})(?!\w){space}*+){{1,3}}"
    arrow = rf"[,;/|]?{space}*+(?:[-=~\u2013]++>?|>|\u2192|\u21d2|{links})?"
    pair = rf"[\[({{]{space}*+{NUMBER}(?:{gap}{NUMBER}){{1,2}}+{space}*+,?{space}*+[\])}}]"
    # Where spaces stand about the sign itself, points have more than those between them.
    apart = rf"(?(spaced){space}*+[,;]{space}*+|(?:{gap}|{space}*+(?!(?P=sign))[|/~]{space}*+))"
    joint = r"(?P<joint>(?P<sign>[:/|xX@_~])|[ ](?P<spaced>[/|xX@~])[ ])"
    joined = rf"{PURE}{joint}{PURE}(?:{apart}(?>{PURE}(?P=joint){PURE})(?!\w)){{2,}}+"
    fraction = rf"(?=[-+]?\d++,\d){LOCAL_NUMBER}"
    last = r"[-+.\d]++[ ]/[ ][-+.\d]++[ \t\r]*+(?:\n|\Z)"
    inside, outside = r"[ \t]*+[|/:xX][ \t]*+", rf"{space}*+(?:[;|/]|,(?!\S)){space}*+|{space}++"
    local = (
        rf"{fraction}(?P<inside>{inside}){LOCAL_NUMBER}(?!(?P=inside))(?P<outside>{outside})"
        rf"{LOCAL_NUMBER}(?P=inside){LOCAL_NUMBER}(?:(?P=outside){LOCAL_NUMBER}(?P=inside){LOCAL_NUMBER})++"
    )
    return re.compile(
        rf"(?P<pairs>{pair}(?:{space}*+{arrow}{space}*+{pair}){{2,}}+)"
        rf"|(?P<drawn>(?<!\w){PATH_DATA}(?!\w))|(?P<joined>(?<![\w.]){joined})|(?P<local>(?<![\w.,]){local})"
        rf"|(?P<clock>(?<![\w.-])(?:{CLOCK})(?![\w-])|(?<![\w.])(?:{_ADDRESS})(?![\w.]))"
        rf"|(?P<lettered>(?<![\w.])(?:[xX][ \t]?{PURE}[ \t,;]++[yY]|[eE][ \t]?{PURE}[ \t,;]++[nN])"
        rf"[ \t]?{PURE}(?![\w.]))"
        rf"|(?P<slashed>(?<![\w./|])(?=\S{{0,64}}(?:\d{{3}}|\.\d)|0/0(?!\d)|[-+.\d]++\|){PURE}[/|]{PURE}"
        rf"(?![\w./|:-]|(?:,|[ \t]++){PURE}(?![\w./|]))"
        rf"|(?<![\w./|])(?={last})(?=[^\n]*?(?:\d{{3}}|\.\d)){PURE}[ ]/[ ]{PURE})"
        r"|(?P<dumped>\[(?:\"?[\w .-]{1,60}\"?)\][ ]?=>(?:\s*+[\w\\ ]{1,60}\s*+(?=\())?+\s*+)"
        r"|(?P<form>(?<![\w%.\[\]&/?-])(?:[\w./-]*+\?)?+[\w%.\[\]-]++=[\w%.*+~-]*+(?:&[\w%.\[\]-]++=[\w%.*+~-]*+)++(?![^\s\"']))"
        r"|(?P<packed>[A-Za-z0-9+/_-]{24,}+={0,2}+)(?![\w+/%.])"
        rf"|(?P<subscript>{_SUBSCRIPT}){_ASSIGN}"
        rf"|(?P<keyword>(?<![^\s\[({{]){_KEYWORD})"
        rf"|(?P<key>{_QUOTED}|{_BARE}){_ASSIGN}"
        rf"|(?P<numbers>(?<![\w.]){number}(?:{gap}{more})*+)"
        rf"|(?P<quoted>{_QUOTED})"
        r"|(?P<aside>\(\*(?=[^*()]{1,200}\*\)))"
        rf"|(?P<open>[\[({{])|(?P<close>[\])}}])"
        rf"|(?P<newline>\r?\n(?:[ \t]*+\r?\n)*+)|(?P<blank>[ \t\r\f\v]++|{_LITERAL})"
        rf"|(?P<anchor>{_ANCHOR})"
        rf"|{_TAG}|</(?P<end>[\w:.-]++)\s*+>"
        r"|(?P<mark><(?:!--|\?|!)|/\*|(?<![^\s,;{}\[\]()])//|(?<=[ \t])#(?=[ \t]))"
        r"|(?P<escape>(?<!\\)\\++[\"']|&(?:lt|quot|#34|#60|#x22|#x3c);)"
        rf"|(?P<comma>[,;|&]++|(?:(?<![-=~\u2013])[-=~\u2013]++)?+>|[\u2192\u21d2])|(?P<word>{_BARE}(?:{_NEXT})*+)|(?P<other>\\++|[\s\S])"
    )


IN_LINE = _tokens(r"[ \t]")
IN_BRACKETS = _tokens(r"\s")

# --- parts of tokens, and what follows them ---

ATTRIBUTE = re.compile(r"([\w:.-]++)\s*+=\s*+(?:\"([^\"]*+)\"|'([^']*+)'|(\S++))")
JOINED = re.compile(rf"({PURE})(?:[:/|xX@_~]|[ ][/|xX@~][ ])({PURE})")
"""Two numbers held together by one odd sign."""

STEP = re.compile(r"\"([^\"]*+)\"|'([^']*+)'|([^\[\].\"']++)")
"""A part of a key with subscripts."""

KEY = re.compile(rf"(?P<key>{_BARE}){_ASSIGN}")
LOCAL = re.compile(  # 1,234.5 and 1'234.5 and 1.234,5 and 12,5
    r"[ \t]*+([-+]?(?:\d{1,3}(?:,\d{3})++\.\d++|\d{1,3}(?:['\u2019\u202f]\d{3})++(?:[.,]\d++)?"
    r"|\d{1,3}(?:\.\d{3})++,\d++|\d++,\d++))(?:[ ]?(?:mm|cm|m))?+"
    r"(?=,?[ \t]++[^\d\s+-]|;|[ \t\r]*+(?:\n|\Z))"
)
"""A coordinate with marks that group its digits, or with a comma before its fraction."""

COMMENT = re.compile(r"\s#\s.*\Z")
FOLD = re.compile(r"(?:(?<=[^\\])\\)?(?<![ \t])[ \t]*+\r?\n[ \t]*+")
_CORNER = rf"\{{\s*+\"[xX]\"\s*+:\s*+{PURE}\s*+,\s*+\"[yY]\"\s*+:\s*+{PURE}\s*+\}}"
ALIKE = re.compile(rf"\s*+({_CORNER}(?:\s*+,\s*+{_CORNER}){{99,}}+)(?=\s*+\])")
"""What is in the brackets of a long list of points and of nothing else: {"x": 1, "y": 2}."""

ADJACENT = re.compile(rf"[ \t]*+\r?\n[ \t]*+({_QUOTED})")
"""A quoted text right below another one: they are one text."""

_LOOSE = r"[^\s,\[\](){}<>\"':=]++"
GOES_ON = re.compile(rf"[ \t]*+{_LOOSE}(?:[ \t]++{_LOOSE})*+[ \t]*+[,\]}}]")
"""Words below that end what the line above began."""

NUMBERED = re.compile(r"(\d{1,3}),[ ]\d+[ ](?:corners|points|vertices|nodes|Ecken|Punkte|coins)\b")
"""A number that ends a name, before a count of corners."""

STAMPED = re.compile(rf"({PURE})[ \t]+1\d{{9}}(?:\d{{3}}){{0,3}}")
"""A number with the time behind it, in seconds or parts of them."""

LEAF = re.compile(r"(?:([^<]*+)|\s*+<!\[CDATA\[([^<]*+)\]\]>\s*+)</([\w:.-]++)\s*+>")
"""The content of an element that holds text alone, with its end."""

OTHER_UNIT = re.compile(r"[ ]?(?:m2|m²|qm|sqm|%|kg|min|h|V|A|W)(?!\w)")
"""A unit that is none of coordinates."""

ORDINAL = re.compile(r"[ ][^\W\d_]{2}")
"""What stands behind a number and its dot if that counts and measures nothing: 2. Bad."""

DUMPED_WORDS = re.compile(r"([^\W\d_][^\r\n]{0,119})\r?\n(?=[ \t]*+(?:\[[^\]\n]{1,60}\][ ]?=>|\)))")
"""Words behind a dumped key, if the line below is of the same dump."""

OPENERS = re.compile(r"[\[({\s]*+")
WRAPPED = re.compile(
    r"(?:[A-Za-z0-9+/]{40,}\r?\n[ \t]*+)++"
    r"(?:[A-Za-z0-9+/]*+={0,2}[ \t]*+(?=\r?\n|\Z)|(?<=[\n \t]))"
)
"""Packed text broken into lines."""

CLOSERS = re.compile(r"[\])}\s]*+")
MATCHING = {"]": "[", ")": "(", "}": "{"}
STRUCTURED = re.compile(r"[\[{(<=:%]|\d[\s,;/|xX@_~]+[-+.]?\d|[\w+/=-]{24}")
"""What a quoted text has if it is more than a text."""

# --- lines ---

INDENT = re.compile(r"[ \t]*+")
DASH = re.compile(
    r"(?:[-*\u2022\u2023\u25b8\u25be\u25bf]|\d{1,4}[.)](?=[ \t]++[\[({]?[-+]?\d))"
    r"(?:[ \t]++(?=\S)|(?=[ \t]*+\r?\n[ \t]))"
)
HEADING = re.compile(
    r"[ \t]*+(?:\[{1,2}(\d{0,3}[^\W\d][^\[\]\n,=:]*+)\]{1,2}|#{1,6}[ \t]*+([^\n=:]*[^\s#=:])#*|"
    r"={1,6}[ \t]++([^\n=:]*[^\s=:])|"
    r"[=-]{2,}+[ \t]*+([^\n]*[^\s=-])[ \t]*+[=-]{2,})[ \t]*+(?=\r?\n|\Z)"
)
PATH = re.compile(r"[\w-]++(?:\.(?:[\w-]++|\"[^\"\n]++\"))++")
"""A key that spells the way to it: room.3.name, or room."living room"."""

FIELD = re.compile(r"(\w*?\d)_?([^\W\d]+)")
"""A key that spells its way with a number: room3_name."""

TOPIC = re.compile(r"[^\s/]++(?:/[^\s/]++(?:(?:[ ][^\s/]++){1,3}(?=/))?+){2,}+(?=\s|\Z)")
"""A key that spells its way in front of a message: a/b/name."""

PREFIX = re.compile(
    rf"(?:{CLOCK})[ ]++(?:[\w.-]++[ ]++)?[\w./-]++\[\d++\]:[ ]++"
    r"|[VDIWEF]/[\w.]++[ ]*+\([ ]*+\d++\):[ ]++"
    r"|\[[ ]*+\d++\.\d++\][ ]++|\(\d++\.\d++\)[ ]++"
    r"|[\[(]?1\d{9}(?:\d{3}){0,2}(?:\.\d++)?+[\])]?(?:[ \t]*+[:,;|][ \t]*+|[ \t]++)(?=\S)"
)
"""What loggers put before a message."""

RECORD = re.compile(rf"[\[(<]?(?:{CLOCK})")
