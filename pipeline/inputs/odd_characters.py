"""Characters that editors, spreadsheets and telephones put in for plain ones, each with its plain form and its name.

Names are those of the Unicode standard in everyday words; full-width forms follow its compatibility mapping (NFKC).
"""

from __future__ import annotations

import re
import unicodedata

# What parts lines in files of every system; Python's own `splitlines` parts at further signs.
LINE_BREAK = re.compile(r"\r\n|\r|\n")
DOUBLE_QUOTES = "\u201c\u201d\u201e\u201f\u00ab\u00bb\u301d\u301e\u2033"
SINGLE_QUOTES = "\u2018\u2019\u201a\u201b\u2039\u203a\u2032\u00b4"
DASHES = "\u2010\u2011\u2012\u2013\u2014\u2015\u2212\ufe58\ufe63"
BULLETS = "\u2022\u2023\u2043\u2219\u25aa\u25cf\u25e6\u25cb\u25a0\u00b7\u27a2\u2192"
SPACES = "\u00a0\u1680\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\u205f\u3000"
INVISIBLE = "\u00ad\u061c\u180e\u200b\u200c\u200d\u200e\u200f\u2060\u2061\u2062\u2063\u2064\ufeff"
KINDS = (
    (DOUBLE_QUOTES, "curly quote", '"'),
    (SINGLE_QUOTES, "curly quote", "'"),
    (DASHES, "long dash", "-"),
    (BULLETS, "bullet", "-"),
    (SPACES, "no-break or wide space", " "),
    (INVISIBLE, "invisible character", ""),
)
PLAIN = {ord(char): form for chars, _, form in KINDS for char in chars}
NAMES = {char: name for chars, name, _ in KINDS for char in chars}
NAMES |= {
    "\u00a0": "no-break space",
    "\u202f": "narrow no-break space",
    "\u3000": "wide space of an East Asian keyboard",
    "\u200b": "invisible zero-width space",
    "\ufeff": "invisible byte order mark",
    "\u00ad": "invisible soft hyphen",
    "\u2212": "minus sign of typography",
}
FULL_WIDTH = re.compile("[\uff01-\uff5e\u3001\u3002\ufe55]")
INVISIBLES = re.compile(f"[{INVISIBLE}]")
# Between letters of scripts that need them, these two part or join; there they are right.
JOINERS = "\u200c\u200d"


def plain(text: str) -> str:
    """The text with every such character in its plain form, blanks at its ends taken off."""
    text = text.translate(PLAIN)
    if FULL_WIDTH.search(text):
        text = unicodedata.normalize("NFKC", text.translate({0x3001: ",", 0x3002: "."}))
    return text.strip()


def is_odd(char: str) -> bool:
    """Whether a character has a plain form here."""
    return char in NAMES or bool(FULL_WIDTH.match(char))


def named(char: str) -> str:
    """What a reader would call it: `the curly quote “`, `an invisible zero-width space (U+200B)`."""
    name = NAMES.get(char, "full-width form")
    if char in INVISIBLE or char in SPACES:
        return f"{'an' if name[0] in 'aeiou' else 'a'} {name} (U+{ord(char):04X})"
    return f"the {name} {char}"


def invisible_in(text: str) -> str:
    """The first invisible character that has no business where it stands; empty where there is none."""
    for found in INVISIBLES.finditer(text):
        beside = text[found.start() - 1 : found.start()] + text[found.end() : found.end() + 1]
        if found.group() not in JOINERS or beside.isascii():
            return found.group()
    return ""
