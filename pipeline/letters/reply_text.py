"""What a partner wrote itself: the first lines of a mail that quote nothing.

Quoting by `>` and the signature's separator (RFC 3676, sections 4.3 and 4.5); the line above a quotation and the block
of header lines above a whole letter, by their form and in any language: common practice, no source.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from email.message import Message
from html.parser import HTMLParser

from pipeline.inputs.odd_characters import LINE_BREAK
from pipeline.wording.words import one_line

LONGEST_TEXT = 100_000
MOST_LINES = 1_000
# As many as are shown, and no more are read.
MOST_SHOWN = 40
LONGEST_LINE = 400
# Stands for what was left out; a sign that no cleaned line holds otherwise.
CUT = "\N{HORIZONTAL ELLIPSIS}"
QUOTE_SIGNS = (">", "\N{FULLWIDTH GREATER-THAN SIGN}", "|")
# A rule of dashes or the like, also with words in it, between an answer and the letter below it.
RULE = re.compile(r"[-_=*\u2014\u2500]{5,}.*")
HEADER_LINE = re.compile(r"\*?[^\W\d_][^:\uff1a@]{0,20}\*?\s?[:\uff1a]\s*\S.*")
LEAST_HEADER_LINES = 3
# Attributions are wrapped onto three lines at most.
WRAPPED = 3
COLONS = (":", "\N{FULLWIDTH COLON}")
DATED = re.compile(r"@|\b(?:19|20)\d\d\b|\d{1,2}[:.]\d\d")
BLOCKS = {"p", "div", "br", "li", "tr", "table", "ul", "ol", "h1", "h2", "h3", "h4", "pre"}
SILENT = {"script", "style", "head", "title"}


def own_lines(text: str) -> tuple[str, ...]:
    """The first lines of a text that quote nothing, without what hides or turns letters."""
    lines = [cleaned(line) for line in LINE_BREAK.split(text[:LONGEST_TEXT])[:MOST_LINES]]
    kept: list[str] = []
    skip = 0
    for index, line in enumerate(lines):
        if skip or line.startswith(QUOTE_SIGNS) or not line:
            skip = max(skip - 1, 0)
            continue
        if line == "--" or RULE.fullmatch(line) or is_header_block(lines[index : index + 8]):
            break
        length = attribution(lines, index)
        if length and not is_quoted_next(lines, index + length):
            break
        if length:
            skip = length - 1
            continue
        if len(kept) == MOST_SHOWN:
            kept[-1] = CUT
            break
        kept.append(line)
    return tuple(kept)


def cleaned(line: str) -> str:
    """A line as a reader sees it: no control, format or direction characters, full-width letters as usual ones."""
    seen = one_line(unicodedata.normalize("NFKC", line[:LONGEST_LINE]))
    shown = "".join(sign for sign in seen if unicodedata.category(sign) != "Cf")
    return shown if len(line) <= LONGEST_LINE else shown[: LONGEST_LINE - 1] + CUT


def attribution(lines: list[str], index: int) -> int:
    """Of how many lines the one above a quotation consists that begins here; 0 where none does."""
    for length in range(1, WRAPPED + 1):
        part = lines[index : index + length]
        if len(part) < length or not part[-1] or part[-1].startswith(QUOTE_SIGNS):
            return 0
        joined = " ".join(part)
        if part[-1].endswith(COLONS) and (
            "@" in joined or (DATED.search(joined) and is_quoted_next(lines, index + length))
        ):
            return length
    return 0


def is_quoted_next(lines: list[str], index: int) -> bool:
    """Whether the next line that is not empty is quoted."""
    following = next((line for line in lines[index : index + 3] if line), "")
    return following.startswith(QUOTE_SIGNS)


def is_header_block(lines: list[str]) -> bool:
    """Whether lines with names and values begin here as they stand above a letter: several, one with an address."""
    heads = []
    for line in lines:
        if not HEADER_LINE.fullmatch(line):
            break
        heads.append(line)
    return len(heads) >= LEAST_HEADER_LINES and any("@" in line for line in heads)


class TextOfHtml(HTMLParser):
    """Text of HTML: block elements end lines, a quotation becomes one quoted line, scripts and styles say nothing."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.pieces: list[str] = []
        self.silent = 0
        self.quoted = 0

    def handle_starttag(self, tag: str, attrs: object) -> None:
        """What begins."""
        if tag in SILENT:
            self.silent += 1
        elif tag == "blockquote":
            self.quoted += 1
            self.pieces.append("\n> \n")
        elif tag == "hr":
            self.pieces.append("\n-----\n")
        elif tag in BLOCKS:
            self.pieces.append("\n")

    def handle_endtag(self, tag: str) -> None:
        """What ends."""
        if tag in SILENT:
            self.silent = max(self.silent - 1, 0)
        elif tag == "blockquote":
            self.quoted = max(self.quoted - 1, 0)
        elif tag in BLOCKS:
            self.pieces.append("\n")

    def handle_data(self, data: str) -> None:
        """Words; a line break in the source is a blank."""
        if not self.silent and not self.quoted:
            self.pieces.append(data.replace("\r", " ").replace("\n", " "))


def text_of_html(text: str) -> str:
    """The words of an HTML part, line by line."""
    reader = TextOfHtml()
    reader.feed(text[:LONGEST_TEXT])
    return "".join(reader.pieces)


def spoken(parts: Iterator[tuple[Message, str]]) -> tuple[str, ...]:
    """The own lines of the first part that holds any: plain text before HTML. `parts` come with their text."""
    html = ""
    for part, text in parts:
        kind = part.get_content_type()
        if kind == "text/plain" and (lines := own_lines(text)):
            return lines
        if kind == "text/html" and not html:
            html = text
    return own_lines(text_of_html(html)) if html else ()
