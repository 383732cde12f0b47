"""The tokens of any text, as compiled patterns: none of them goes over a text more than once.

Repetitions are possessive wherever more than one way of matching could be tried, so that no text,
however odd, takes more than linear time.
"""

from __future__ import annotations

import re

from regmap.inputs.capture_numbers import NUMBER

__all__ = [
    "ATTRIBUTE",
    "DASH",
    "HEADING",
    "INDENT",
    "IN_BRACKETS",
    "IN_LINE",
    "MATCHING",
    "RECORD",
    "STRUCTURED",
]

_QUOTED = r'"(?:[^"\\\n]|\\.)*+"' + r"|(?<!\w)'(?:[^'\\\n]|\\.)*+'(?!\w)"
_PLAIN = r"[^\s\[\](){}<>\"',;:=|&\\]"
_BARE = rf"{_PLAIN}++(?:'{_PLAIN}++)*+"
_TIME = r"\d\d?:\d\d(?::\d\d(?:[.,:]\d++)?)?(?:Z|[ ]?[+-]\d\d:?\d\d)?+"
_CLOCK = (
    rf"\d{{4}}[-/.]\d\d?[-/.]\d\d?(?:(?:T|,?[ ]++){_TIME})?"
    rf"|\d\d?[./]\d\d?[./]\d{{2,4}}(?:,?[ ]{_TIME})?|{_TIME}(?!:)"
)
_ADDRESS = r"\d++(?:\.\d++){2,}+(?::\d++)?|(?:[0-9A-Fa-f]{2}[:-]){5}[0-9A-Fa-f]{2}"
_TAG = (
    r"<(?P<tag>[^\W\d][\w:.-]*+)"
    r"(?P<attributes>(?:\s++[\w:.-]++\s*+=\s*+(?:\"[^\"<]*+\"|'[^'<]*+'|[^\s\"'=<>`]++))*+)"
    r"\s*+(?P<empty>/?)>"
)
ATTRIBUTE = re.compile(r"([\w:.-]++)\s*+=\s*+(?:\"([^\"]*+)\"|'([^']*+)'|(\S++))")


def _tokens(space: str) -> re.Pattern[str]:
    gap = rf"(?:{space}*+[,;]{space}*+|{space}++)"
    number = rf"{NUMBER}(?![\w.]|\s*+[:=](?!=))"
    pair = rf"[\[({{]{space}*+{NUMBER}(?:{gap}{NUMBER}){{1,2}}+{space}*+,?{space}*+[\])}}]"
    return re.compile(
        rf"(?P<pairs>{pair}(?:{space}*+[,;]?{space}*+{pair}){{2,}}+)"
        rf"|(?P<clock>(?<![\w.-])(?:{_CLOCK})(?![\w-])|(?<![\w.])(?:{_ADDRESS})(?![\w.]))"
        rf"|(?P<key>{_QUOTED}|{_BARE})[ \t]*+(?:=>|->|:=|=(?!=)|:(?!//))"
        rf"|(?P<numbers>(?<![\w.]){number}(?:{gap}{number})*+)"
        rf"|(?P<quoted>{_QUOTED})"
        rf"|(?P<open>[\[({{])|(?P<close>[\])}}])"
        rf"|(?P<newline>\r?\n)|(?P<blank>[ \t\r\f\v]++)|(?P<comma>[,;|&])"
        rf"|{_TAG}|</(?P<end>[\w:.-]++)\s*+>|(?P<mark><(?:!--|\?|!))"
        rf"|(?P<escape>\\++[\"']|&(?:lt|quot|#34|#60|#x22|#x3c);)"
        rf"|(?P<word>{_BARE})|(?P<other>[\s\S])"
    )


IN_LINE = _tokens(r"[ \t]")
IN_BRACKETS = _tokens(r"\s")
INDENT = re.compile(r"[ \t]*+")
DASH = re.compile(r"[-*][ \t]++(?=\S)")
HEADING = re.compile(
    r"[ \t]*+(?:\[{1,2}([^\W\d][^\[\]\n,=:]*+)\]{1,2}|#{1,6}[ \t]*+([^\n=:]*[^\s#=:])#*|"
    r"[=-]{2,}[ \t]*+([^\n]*[^\s=-])[ \t]*+[=-]{2,})[ \t]*+(?=\r?\n|\Z)"
)
RECORD = re.compile(rf"[\[(<]?(?:{_CLOCK})")
STRUCTURED = re.compile(r"[\[{(<=:%]|\d[\s,;]+[-+.]?\d|[\w+/=-]{24}")
MATCHING = {"]": "[", ")": "(", "}": "{"}
