"""Characters that an editor put in where a file wants plain ones: tabs, hard spaces, curly quotes, full-width forms.

What a text holds is left alone; indents, marks, keys and the ends of values are not.
"""

from __future__ import annotations

import re

from pipeline.inputs import keys_said
from pipeline.inputs.line_scan import PAIR, RIGHT, Page, indented, is_key, without_comment
from pipeline.inputs.odd_characters import (
    BULLETS,
    DASHES,
    DOUBLE_QUOTES,
    FULL_WIDTH,
    PLAIN,
    SINGLE_QUOTES,
    SPACES,
    invisible_in,
    named,
    plain,
)
from pipeline.inputs.quantities import quantity
from pipeline.inputs.yaml_tree import TAB

# Keys with which an entry of a list begins.
FIRST_IN_ENTRY = ("azimuth_deg", "elevation_deg", "days", "from", "name", "call")
DASH_LIKE = re.compile(f"(\\s*)([{BULLETS}{DASHES}*])\\s*(?=\\S)")


def characters(page: Page) -> None:
    """Characters that an editor put in, where a file wants plain ones; a text may hold what it likes."""
    for at, line in enumerate(page.lines):
        body = without_comment(line)
        if body.isascii() or line.lstrip().startswith("#"):
            continue
        right = plain_structure(body)
        if right != body:
            char = next(
                (one for one, other in zip(body, right.ljust(len(body), "\0"), strict=False) if one != other), body[0]
            )
            char = invisible_in(body) or char
            verb = "delete it and write" if invisible_in(body) else "write"
            lead = indented(right)
            if (
                lead
                and re.search(f"[{SPACES}]", body[: len(body) - len(body.lstrip())])
                and right[lead:] == body.lstrip()
            ):
                spaces = f"{lead} space{'' if lead == 1 else 's'}"
                message = f"the line begins with {named(char)}; begin it with {spaces}: `{RIGHT}`."
                page.tell(at, message, right + line[len(body) :])
                continue
            page.tell(
                at, f"the line holds {named(char)}; {verb} `{RIGHT}` in plain characters.", right + line[len(body) :]
            )


def plain_structure(body: str) -> str:
    """A line with plain characters in its indent, its marks and around its key; the words of a value stay."""
    while invisible_in(body):
        body = body.replace(invisible_in(body), "")
    indent = len(body) - len(body.lstrip())
    body = re.sub(f"[{SPACES}]", " ", body[:indent]) + body[indent:]
    bullet = DASH_LIKE.match(body)
    if bullet and bullet[2] != "*":
        rest = body[bullet.end() :]
        word = re.match(r"([^:\uff1a]+)[:\uff1a]", rest)
        entry = (
            not word or not (is_key(plain(word[1])) or keys_said.is_band(word[1])) or plain(word[1]) in FIRST_IN_ENTRY
        )
        body = f"{bullet[1]}- {rest}" if entry else f"{bullet[1]}{rest}"
    parts = re.match(rf"(\s*(?:-\s+)?[^:\uff1a\s]+(?: \w+)?[{SPACES} ]*[:\uff1a])(.*)$", body)
    if not parts or not is_key(plain(parts[1].strip(" -:\uff1a"))):
        value = re.match(rf"(\s*-\s+)([{DOUBLE_QUOTES}{SINGLE_QUOTES}\uff5b\uff3b].*)$", body)
        return value[1] + plain_value(value[2]) if value else body
    head = parts[1].translate(PLAIN)
    lead = re.match(r"\s*(?:-\s+)?", head)
    head = (lead[0] if lead else "") + plain(head[len(lead[0]) if lead else 0 :])
    tail = re.sub(f"^[{SPACES} ]+", " ", parts[2])
    said = plain_value(tail.lstrip()) if tail.strip() else ""
    if FULL_WIDTH.search(said) and plain(said).isascii() and quantity(head.strip(" -:")):
        said = plain(said)
    return head + (f" {said}" if said else "")


def plain_value(value: str) -> str:
    """A value whose quotes or brackets an editor has changed, in plain ones."""
    quotes = DOUBLE_QUOTES + SINGLE_QUOTES
    if value[0] in quotes and value[-1] in quotes + "\"'" and len(value) > 1:
        inside = value[1:-1].replace('"', "'")
        return f'"{inside}"'
    if plain(value[0]) in "{[":
        value = re.sub(f"[{DOUBLE_QUOTES}]", '"', value)
        value = re.sub(f"(?<=[:,] )[{SINGLE_QUOTES}]([^{SINGLE_QUOTES}']*)[{SINGLE_QUOTES}]", r'"\1"', value)
        return FULL_WIDTH.sub(lambda found: spaced(plain(found[0])), re.sub(f"[{SPACES}]", " ", value)).rstrip()
    return value


def spaced(mark: str) -> str:
    """A colon or comma that had its blank inside its width."""
    return f"{mark} " if mark in ",:" else mark


def tabs(page: Page) -> None:
    """Tabs outside quotes and comments: the parsers differ about them, and an indentation by tabs is an error."""
    above = ""
    for at, line in enumerate(page.lines):
        if TAB.match(line) and line.strip():
            verb = "begins with" if line.lstrip(" ").startswith("\t") else "holds"
            lead = line[: len(line) - len(line.lstrip())].replace("\t", "  ")
            if verb[0] == "b" and indented(above) and "\t" not in above and PAIR.match(above):
                lead = " " * indented(above)
            if line.lstrip().startswith("#"):
                page.lines[at] = lead + line.lstrip()
                continue
            right = lead + re.sub(r"\s*\t\s*", " ", line.lstrip())
            begin = f"; begin with {len(lead)}" if verb[0] == "b" else ""
            page.tell(at, f"the line {verb} a tab; YAML wants spaces{begin}: `{RIGHT}`.", right)
        above = line if without_comment(line).strip() else above
