"""The tokens of any text, as compiled patterns: none of them goes over a text more than once.

Repetitions are possessive wherever more than one way of matching could be tried, so that no text,
however odd, takes more than linear time.
"""

from __future__ import annotations

import re

from regmap.inputs.capture_numbers import NUMBER

__all__ = [
    "ADJACENT",
    "ATTRIBUTE",
    "CLOCK",
    "CLOSERS",
    "DASH",
    "FOLD",
    "GOES_ON",
    "HEADING",
    "INDENT",
    "IN_BRACKETS",
    "IN_LINE",
    "JOINED",
    "KEY",
    "LEAF",
    "MATCHING",
    "OPENERS",
    "PATH",
    "RECORD",
    "STRUCTURED",
]

_FOLD = r"\r?\n[ \t]++(?=\S)"  # a quoted text may go on below, indented
_QUOTED = (
    rf'"(?:[^"\\\r\n]|\\[\s\S]|{_FOLD})*+"'
    rf"|(?<!\w)'(?:[^'\\\r\n]|\\[\s\S]|''|{_FOLD})*+'(?!\w)"
)
_PLAIN = r"[^\s\[\](){}<>\"',;:=|&\\]"
_BARE = rf"{_PLAIN}++(?:'(?=[\s\w]){_PLAIN}*+)*+"
_ASSIGN = r"[ \t]*+(?:=>|->|:=|=(?!=)|:(?!//))"
_NEXT = (  # one more word of a phrase
    rf"[ \t]++(?![bBrRuU]{{1,2}}[\"'])[^\W\d_](?:(?!%){_PLAIN}){{0,22}}+(?!{_PLAIN}|'|{_ASSIGN})"
)
_TIME = r"\d\d?:\d\d(?::\d\d(?:[.,:]\d++)?)?(?:Z|[ ]?[+-]\d\d:?\d\d)?+"
_MONTH = r"(?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)[a-z]*+"
CLOCK = (
    rf"\d{{4}}[-/.]\d\d?[-/.]\d\d?(?:(?:T|,?[ ]++){_TIME})?"
    rf"|\d\d?[./]\d\d?[./]\d{{2,4}}(?:,?[ ]{_TIME})?|{_TIME}(?!:)"
    rf"|{_MONTH}[ ]++\d\d?[ ]{_TIME}|\d\d?/{_MONTH}/\d{{4}}:{_TIME}"
)
_ADDRESS = r"\d++(?:\.\d++){2,}+(?::\d++)?|(?:[0-9A-Fa-f]{2}[:-]){5}[0-9A-Fa-f]{2}"
_TAG = (
    r"<(?P<tag>[^\W\d][\w:.-]*+)"
    r"(?P<attributes>(?:\s++[\w:.-]++\s*+=\s*+(?:\"[^\"<]*+\"|'[^'<]*+'|[^\s\"'=<>`]++))*+)"
    r"\s*+(?P<empty>/?)>"
)
ATTRIBUTE = re.compile(r"([\w:.-]++)\s*+=\s*+(?:\"([^\"]*+)\"|'([^']*+)'|(\S++))")

_PURE = NUMBER.replace("(?:mm|cm|px|m)?+", "")
JOINED = re.compile(rf"({_PURE})[:/|xX@_~]({_PURE})")
"""Two numbers held together by one odd sign."""


def _tokens(space: str) -> re.Pattern[str]:
    gap = rf"(?:{space}*+[,;]{space}*+|{space}++)"
    number = rf"{NUMBER}(?![\w.]|{_ASSIGN})"
    pair = rf"[\[({{]{space}*+{NUMBER}(?:{gap}{NUMBER}){{1,2}}+{space}*+,?{space}*+[\])}}]"
    joined = rf"{_PURE}(?P<joint>[:/|xX@_~]){_PURE}(?:{gap}{_PURE}(?P=joint){_PURE}){{2,}}+(?!\w)"
    return re.compile(
        rf"(?P<pairs>{pair}(?:{space}*+[,;]?{space}*+{pair}){{2,}}+)"
        rf"|(?P<joined>(?<![\w.]){joined})"
        rf"|(?P<clock>(?<![\w.-])(?:{CLOCK})(?![\w-])|(?<![\w.])(?:{_ADDRESS})(?![\w.]))"
        r"|(?P<packed>[A-Za-z0-9+/_-]{24,}+={0,2}+)(?![\w+/%.])"
        rf"|(?P<key>{_QUOTED}|{_BARE}){_ASSIGN}"
        rf"|(?P<numbers>(?<![\w.]){number}(?:{gap}{number})*+)"
        rf"|(?P<quoted>{_QUOTED})"
        rf"|(?P<open>[\[({{])|(?P<close>[\])}}])"
        rf"|(?P<newline>\r?\n(?:[ \t]*+\r?\n)*+)|(?P<blank>[ \t\r\f\v]++|[bBrRuU]{{1,2}}(?=[\"']))"
        r"|(?P<anchor>(?<![^\s,\[{(:-])&\w++(?=\s)|(?<![^\s,\[{(:-])\*\w++(?=[ \t\r]*+(?:[,\]}\n]|\Z)))"
        rf"|{_TAG}|</(?P<end>[\w:.-]++)\s*+>"
        r"|(?P<mark><(?:!--|\?|!)|/\*|(?<![^\s,;{}\[\]()])//)"
        r"|(?P<escape>\\++[\"']|&(?:lt|quot|#34|#60|#x22|#x3c);)"
        rf"|(?P<comma>[,;|&]++)|(?P<word>{_BARE}(?:{_NEXT})*+)|(?P<other>[\s\S])"
    )


IN_LINE = _tokens(r"[ \t]")
IN_BRACKETS = _tokens(r"\s")
KEY = re.compile(rf"(?P<key>{_BARE}){_ASSIGN}")
FOLD = re.compile(r"(?:(?<=[^\\])\\)?[ \t]*+\r?\n[ \t]*+")
ADJACENT = re.compile(rf"[ \t]*+\r?\n[ \t]*+({_QUOTED})")
"""A quoted text right below another one: they are one text."""

GOES_ON = re.compile(
    r"[ \t]*+[^\s,\[\](){}<>\"':=]++(?:[ \t]++[^\s,\[\](){}<>\"':=]++)*+[ \t]*+[,\]}]"
)
"""Words below that end what the line above began."""

LEAF = re.compile(r"(?:([^<]*+)|\s*+<!\[CDATA\[([^<]*+)\]\]>\s*+)</([\w:.-]++)\s*+>")
"""The content of an element that holds text alone, with its end."""

INDENT = re.compile(r"[ \t]*+")
DASH = re.compile(r"[-*][ \t]++(?=\S)")
HEADING = re.compile(
    r"[ \t]*+(?:\[{1,2}([^\W\d][^\[\]\n,=:]*+)\]{1,2}|#{1,6}[ \t]*+([^\n=:]*[^\s#=:])#*|"
    r"[=-]{2,}[ \t]*+([^\n]*[^\s=-])[ \t]*+[=-]{2,})[ \t]*+(?=\r?\n|\Z)"
)
PATH = re.compile(r"[\w-]++(?:\.[\w-]++)++")
"""A key that spells the way to it: room.3.name."""

RECORD = re.compile(rf"[\[(<]?(?:{CLOCK})")
STRUCTURED = re.compile(r"[\[{(<=:%]|\d[\s,;/|xX@_~]+[-+.]?\d|[\w+/=-]{24}")
OPENERS = re.compile(r"[\[({\s]*+")
CLOSERS = re.compile(r"[\])}\s]*+")
MATCHING = {"]": "[", ")": "(", "}": "{"}
