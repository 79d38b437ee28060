"""Bytes of a log to text: UTF-8, UTF-16, or what western spreadsheets write.

What is odd about the encoding is told with its line; nothing of the text is lost.
"""

from __future__ import annotations

import codecs
import re
from typing import NamedTuple

# A crash while writing leaves runs of zeros; a picture or a program has more, or nothing of a log.
MOST_ZEROS = 5000
LIKE_A_LOG = re.compile(r"<eor>|</record>|time_utc|slot_start_utc", re.IGNORECASE)


class Oddity(NamedTuple):
    """A place of a log at which something is odd: its line, what is wrong, what would be right."""

    line: int
    what: str
    advice: str


class NotText(ValueError):
    """The bytes are no text."""


def text_of(raw: bytes) -> tuple[str, tuple[Oddity, ...]]:
    """The text: UTF-8, UTF-16 by its mark or its zeros, or else Windows-1252 with a word on the first odd letter.

    A few zero bytes in a log are told and taken for gaps. Raises NotText.
    """
    odd: list[Oddity] = []
    wide = _utf_16(raw)
    if wide:
        text = raw.decode(wide, "replace").removeprefix("\ufeff")
    else:
        try:
            text = raw.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            text = _western(raw)
            line = raw[: error.start].count(b"\n") + 1
            advice = "the file is read as Windows-1252; calls and figures are not touched by that"
            odd.append(Oddity(line, "a letter here is not UTF-8", advice))
    first = text.find("\x00")
    if first >= 0:
        if text.count("\x00") > MOST_ZEROS or LIKE_A_LOG.search(text) is None:
            raise NotText
        line = text.count("\n", 0, first) + 1
        odd.append(Oddity(line, "there are zero bytes in the file", "they are taken for gaps"))
    # Old systems end a file with Ctrl-Z.
    return text.replace("\x00", " ").replace("\x1a", " "), tuple(odd)


def _western(raw: bytes) -> str:
    """Windows-1252, whose dashes stand for minus signs; Latin-1 where a byte means nothing in it."""
    try:
        return raw.decode("cp1252")
    except UnicodeDecodeError:
        return raw.decode("latin-1")


def _utf_16(raw: bytes) -> str | None:
    """Which UTF-16 a file is in, None where it is in none: by its mark, or since every other byte is zero."""
    if raw.startswith(codecs.BOM_UTF16_LE):
        return "utf-16-le"
    if raw.startswith(codecs.BOM_UTF16_BE):
        return "utf-16-be"
    start = raw[:200]
    half = len(start) // 2
    if half >= 4 and start[1::2].count(0) > 0.9 * half and start[::2].count(0) == 0:
        return "utf-16-le"
    if half >= 4 and start[::2].count(0) > 0.9 * half and start[1::2].count(0) == 0:
        return "utf-16-be"
    return None
