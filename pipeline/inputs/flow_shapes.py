"""What stands in braces and brackets of a station or season file: commas, colons and ends, looked at before parsing.

A mapping in braces may go over several lines; each of its faults is told at its own.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from pipeline.inputs.angles_said import advice, spelled, taken_apart
from pipeline.inputs.line_scan import (
    KEY,
    RIGHT,
    SOUND,
    TEXTS,
    WORD_LISTS,
    Page,
    blanked,
    indented,
    is_key,
    without_comment,
)
from pipeline.inputs.numbers_said import LEAVE_OUT

# Keys that hold a text of any kind.
CLOSES = {"{": "}", "[": "]"}
OPENS = re.compile(rf"\s*(?:-\s+)*(?:[\"']?{KEY}(?: \w+)?[\"']?:\s+)?(?=[{{\[])")
STARTS = re.compile(rf"\s*(?:-\s|{KEY}:(?:\s|$))")


@dataclass(frozen=True)
class Piece:
    """What stands between two commas of one pair of braces, with the line it begins in and its place there."""

    at: int
    start: int
    text: str
    bracket: str


def look(page: Page) -> None:
    """All brackets of all lines; a repair is a change of one line."""
    at = 0
    while at < len(page.lines):
        body = "" if SOUND.fullmatch(page.lines[at]) else without_comment(page.lines[at])
        opened = OPENS.match(body) if body and not body.lstrip().startswith("#") else None
        if not opened or opened.end() >= len(body):
            at += 1
            continue
        last = end_of(page, at, opened.end())
        if last is None:
            at += 1
            continue
        for _ in range(12):  # one repair at a time, for each moves what stands behind it
            if not mend_one(page, at, last, opened.end()):
                break
        at = last + 1


def end_of(page: Page, at: int, start: int) -> int | None:
    """The line in which what opens here is closed; None, and told, where nothing closes it."""
    depth: list[str] = []
    open_quote = ""
    for number in range(at, len(page.lines)):
        body = without_comment(page.lines[number], len(depth))
        if number > at and left_open(page, at, number, body):
            break
        text, _, open_quote = blanked(page.lines[number], len(depth), open_quote)
        for column in range(start if number == at else 0, len(text)):
            char = text[column]
            if char in CLOSES:
                depth.append(char)
            elif char in "}]":
                if not depth or CLOSES[depth[-1]] != char:
                    return wrong_end(page, number, char, depth)
                depth.pop()
                if not depth:
                    behind(page, number, column, body)
                    return number
    mark = page.lines[at][start]
    name = "curly" if mark == "{" else "square"
    following = page.lines[at + 1] if at + 1 < len(page.lines) else ""
    if re.match(r"#\s{2,}[^\s-]", following) and following.count("}") > following.count("{"):
        message = f"the {name} bracket goes on in the next line, which is still a comment; take its # away as well."
        page.tell(at, message)
        page.lines[at + 1] = following[1:]
        return at + 1
    # A quote that is left open hides the bracket behind it.
    body = without_comment(page.lines[at]).rstrip(" ,")
    quote = blanked(page.lines[at])[2]
    ends = "".join(CLOSES[one] for one in reversed(depth or [mark]))
    page.tell(at, f"the {name} bracket that opens here is not closed; write `{RIGHT}`.", f"{body}{quote}{ends}")
    return at


def behind(page: Page, number: int, column: int, body: str) -> None:
    """Text behind the bracket that closes a value: a bracket too many, a note, or a text whose braces need quotes."""
    rest = body[column + 1 :].strip()
    if not rest or rest.startswith((":", "#")):
        return
    head = re.match(rf"((?:\s*-\s+)?\s*{KEY}:\s+)(\{{\w+\}}.*)$", body)
    if head:
        message = f"text that begins with a brace stands in quotes; write `{RIGHT}`."
        page.tell(number, message, f'{head[1]}"{head[2]}"')
    elif (key := re.match(rf",?\s*({KEY}):\s", rest)) and is_key(key[1]) and re.match(r"\s*-\s+\w", body):
        lead = re.match(r"\s*-\s+", body)
        cut = lead.end() if lead else 0
        page.tell(number, f"keys in one line stand in braces; write `{RIGHT}`.", f"{body[:cut]}{{{body[cut:]}}}")
    elif (key := re.match(rf"({KEY}):(?:\s|$)", rest)) and is_key(key[1]):
        message = (
            f"two keys stand in one line; write `{body[: column + 1].strip()}` and begin a new line before {key[1]}."
        )
        page.tell(number, message, rest if rest.endswith(":") else body[: column + 1])
    elif re.fullmatch(r"[}\])\s]+", rest):
        page.tell(number, f"the bracket {rest[0]} closes nothing that is open; write `{RIGHT}`.", body[: column + 1])
    else:
        message = f"text stands behind the closing bracket; write `{RIGHT}`, and a note behind ` # `."
        page.tell(number, message, body[: column + 1])


def left_open(page: Page, at: int, number: int, body: str) -> bool:
    """Whether a line begins something new, so that a bracket above cannot go on in it."""
    line = page.lines[number]
    if re.match(r"#\S?\s*\S", line) and not line.startswith("# ") and re.search(r"[}\]]\s*$", line):
        return True
    return bool(body.strip()) and bool(STARTS.match(body)) and indented(body) <= indented(page.lines[at])


def wrong_end(page: Page, number: int, char: str, depth: list[str]) -> int:
    """A bracket that closes another kind, or nothing."""
    body = without_comment(page.lines[number])
    at = body.rfind(char)
    if len(depth) > 1 and CLOSES[depth[-2]] == char:
        opened = body.rfind(depth[-1], 0, at)
        further = next((one for one in re.finditer(rf",\s*({KEY}):", body[opened:at]) if is_key(one[1])), None)
        cut = opened + further.start() if further and opened >= 0 else at
        right = f"{body[:cut]}{CLOSES[depth[-1]]}{body[cut:]}"
        page.tell(number, f"the bracket {depth[-1]} is not closed; write `{RIGHT}`.", right)
        return number
    right = body[:at] + (CLOSES[depth[-1]] if depth else "") + body[at + 1 :]
    page.tell(number, f"the bracket {char} closes nothing that is open; write `{RIGHT}`.", right)
    return number


def pieces_of(page: Page, first: int, last: int, start: int) -> list[Piece]:
    """What stands between commas and brackets, from the first line to the last."""
    found: list[Piece] = []
    stack: list[str] = []
    text, where, quote = "", (first, start), ""
    for number in range(first, last + 1):
        blank, _, quote = blanked(page.lines[number], len(stack), quote)
        for column in range(start if number == first else 0, len(blank)):
            char = blank[column]
            if char not in "{[}],":
                text += page.lines[number][column]
                continue
            if text.strip():
                found.append(Piece(*where, text, stack[-1] if stack else ""))
            if char in "{[":
                stack.append(char)
            elif char in "}]" and stack:
                stack.pop()
            text, where = "", (number, column + 1)
        text += " "
        if not text.strip():
            text, where = "", (number + 1, 0)
    return found


def mend_one(page: Page, first: int, last: int, start: int) -> bool:
    """Tell and mend the first fault of a pair of braces; whether there was one."""
    before: Piece | None = None
    for piece in pieces_of(page, first, last, start):
        line = page.lines[piece.at]
        if (
            piece.bracket == "{"
            and piece.start > 0
            and line[piece.start - 1] in "]}"
            and re.match(rf"\s*{KEY}:", piece.text)
        ):
            right = f"{line[: piece.start]},{line[piece.start :]}"
            page.tell(
                piece.at, f"a comma is missing behind the bracket {line[piece.start - 1]}; write `{RIGHT}`.", right
            )
            return True
        if piece.bracket == "{" and (mend_piece(page, piece) or mend_bare(page, piece, before)):
            return True
        before = piece
    return False


def change(page: Page, piece: Piece, message: str, old: str, new: str) -> bool:
    """Put a stretch of a piece right in its line; False where the piece goes over several."""
    line = page.lines[piece.at]
    place = line.find(old, piece.start)
    if place < 0:
        return False
    page.tell(piece.at, message, line[:place] + new + line[place + len(old) :])
    return True


def mend_piece(page: Page, piece: Piece) -> bool:
    """A key with `=`, without a blank behind its colon, or with the next key behind its value."""
    text = piece.text.strip()
    found = re.match(rf"({KEY})\s*(=>|->|:=|=)\s*(\S.*)$", text)
    if found:
        return change(
            page,
            piece,
            f"'{found[2]}' stands where a colon is meant; write `{RIGHT}`.",
            text,
            f"{found[1]}: {found[3]}",
        )
    found = re.match(rf"({KEY}):([^\s:/\\].*)$", text)
    if found and is_key(found[1]):
        return change(
            page, piece, f"there is no space after the colon; write `{RIGHT}`.", text, f"{found[1]}: {found[2]}"
        )
    found = re.match(rf"({KEY}):\s+([-?!*&%@]{{1,3}})$", text)
    if found:
        return change(page, piece, f"{found[1]} is '{found[2]}'; {LEAVE_OUT}", text, f"{found[1]}: ''")
    found = re.match(rf"({KEY})\s+([^:\s].*)$", text)
    if found and is_key(found[1]) and ": " not in text:
        return change(page, piece, f"a key without a colon; write `{RIGHT}`.", text, f"{found[1]}: {found[2]}")
    found = re.match(rf"({KEY}:\s+[^\"'\s][^\"']*?)(\s*;\s*|\s+)({KEY})\s*([:=]\s*.*)$", text)
    if found and is_key(found[3]):
        old, new = found[1] + found[2] + found[3], f"{found[1]}, {found[3]}"
        amiss = "a semicolon stands where a comma is meant" if ";" in found[2] else "a comma is missing"
        return change(page, piece, f"{amiss} before {found[3]}; write `{RIGHT}`.", old, new)
    return False


def quoted(text: str) -> str:
    """A text in double quotes."""
    inside = text.replace('"', "'")
    return f'"{inside}"'


def mend_bare(page: Page, piece: Piece, before: Piece | None) -> bool:
    """Something without a key: the decimals behind a comma, or the rest of a list that has no brackets."""
    text = piece.text.strip()
    if before is None or before.at != piece.at or before.bracket != "{" or ":" in text:
        return False
    held = re.match(rf"({KEY}):\s*(.+)$", before.text.strip())
    if not held:
        return False
    key, value = held.groups()
    line = page.lines[piece.at]
    between = line[before.start : piece.start + len(piece.text)]
    if re.fullmatch(r"[-+\u2212]?\d+(\.\d{3})*", value) and re.fullmatch(r"\d+(\s*[a-zA-Z°%]+)?", text):
        right = f"{value.replace('.', '')}.{text}"
        message = f"in braces a comma ends a value, so {key} reads as {value}; write `{RIGHT}` with a decimal point."
        return change(page, before, message, between.strip(), f"{key}: {right}")
    if key in ("latitude_deg", "longitude_deg") and (angle := taken_apart(f"{value},{text}")):
        sure = re.match(r"write (-?[\d.]+\d)[;:]", advice(key.removesuffix("_deg"), f"{value},{text}") or "")
        right = sure[1] if sure else f"{angle.word.upper()} {spelled(angle.sign * angle.size_deg)}".strip()
        message = f"in braces a comma ends a value, so {key} reads as {value}; write `{RIGHT}` with a decimal point."
        return change(page, before, message, between.strip(), f"{key}: {right}")
    if re.fullmatch(r"[^@\s]+@[^@\s]+", text):
        return change(page, piece, f"a mail address has a key of its own; write `{RIGHT}`.", text, f"email: {text}")
    if key in TEXTS and not re.fullmatch(r"[\d.,+-]+", text):
        whole = between[between.index(":") + 1 :].strip()
        message = f"text with a comma needs quotes in braces; write `{RIGHT}`."
        return change(page, before, message, between.strip(), f"{key}: {quoted(whole)}")
    if key in WORD_LISTS:
        rest = re.match(
            r"((?:\s*[^,:{}\[\]]+,)*\s*[^,:{}\[\]]+?)\s*(?=,\s*\w+:|\})", line[before.start :].split(":", 1)[1]
        )
        if rest:
            words = [word.strip(" ()") for word in rest[1].split(",")]
            message = f"several {key} stand in square brackets; write `{RIGHT}`."
            return change(page, before, message, f"{key}:{rest[1]}", f"{key}: [{', '.join(words)}]")
    return False
