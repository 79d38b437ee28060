"""How the lines of a station or season file lie to each other: levels, lists without dashes, examples half freed.

Levels by the rules of YAML: what belongs to a key lies deeper than it, and keys of one group begin in one column.
"""

from __future__ import annotations

import re

from pipeline.inputs import keys_said
from pipeline.inputs.line_scan import (
    GROUP_LISTS,
    KEY,
    PAIR,
    RIGHT,
    WORD_LISTS,
    Page,
    indented,
    is_key,
    without_comment,
)  # fmt: skip
from pipeline.inputs.model import Season, Station

# Keys that come second in an entry: with a dash of their own they would begin another.
PARTED = ("from", "to", "elevation_deg", "priority", "contacts_wanted")
COMMENTED = re.compile(rf"#(\s*)({KEY}):(?:\s+(.*))?$")


def look(page: Page) -> None:
    """Every line that holds something, against those above it."""
    lists(page)
    above: list[int] = []  # the lines that hold something, up to the one that is looked at
    for at in range(len(page.lines)):
        body = without_comment(page.lines[at])
        if not body.strip() or page.inside[at] or body.strip() in ("---", "..."):
            continue
        freed = level(page, at, above) if begins_something(body) else None
        # A group whose key was freed holds the lines that follow as well.
        above = [*nearer(page, at, above if freed is None else [*nearer(page, freed, above), freed]), at]


def nearer(page: Page, at: int, above: list[int]) -> list[int]:
    """Of the lines above, those whose groups stay open: what lies as deep as the line is done with."""
    mine, dash = indented(page.lines[at]), page.lines[at].lstrip().startswith("-")
    return [
        one
        for one in above
        if indented(page.lines[one]) < mine
        or (indented(page.lines[one]) == mine and dash and not page.lines[one].lstrip().startswith("-"))
    ]


def begins_something(body: str) -> bool:
    """Whether a line is a key or an entry of a list."""
    return bool(PAIR.match(body)) or bool(re.match(r"\s*-(\s|$)", body)) or bool(re.match(rf"\s*(?:{KEY}: |\{{)", body))


def key_column(body: str) -> int:
    """The column in which a line's key begins, behind the dash of a list."""
    lead = re.match(r"\s*(?:-\s+)*", body)
    return lead.end() if lead else 0


def complete(body: str) -> bool:
    """Whether a line's key has its value already."""
    pair = PAIR.match(body)
    return bool(pair and pair[3] and not re.fullmatch(r"[|>][+-]?\d?", pair[3]))


def level(page: Page, at: int, above: list[int]) -> int | None:
    """A line against the levels that are open above it; the line of its key where that was a comment still."""
    line = page.lines[at]
    mine = indented(line)
    before = without_comment(page.lines[above[-1]]) if above else ""
    astray = not above or (complete(before) and mine > key_column(before)) or (mine > 0 and not opened(page, at, above))
    astray = astray or (mine > 0 and is_foreign(line, without_comment(page.lines[above[0]])))
    stray = line.lstrip()[0] in "-{" and not page.inside[at] and outside_of_lists(page, at, above)
    parent = commented_parent(page, at) if astray or stray else None
    if parent is not None:
        name = COMMENTED.match(page.lines[parent])
        assert name is not None
        message = (
            f"this line stands below `{name[2]}:` in line {parent + 1}, which is still a comment; take its # away too."
        )
        page.tell(at, message)
        page.lines[parent] = page.lines[parent][1:]
        return parent
    against(page, at, above, stray)
    return None


def against(page: Page, at: int, above: list[int], stray: bool) -> None:
    """A line whose key is no comment; `stray`: an entry that no list holds."""
    line = page.lines[at]
    mine = indented(line)
    before = without_comment(page.lines[above[-1]]) if above else ""
    if not above:
        if mine:
            page.tell(
                at, f"the first line begins with {spaces(mine)}; write `{RIGHT}` at the left margin.", line.lstrip()
            )
        return
    pair = PAIR.match(before)
    band = keys_said.is_band(pair[3].rstrip(": ")) if pair and pair[3] and pair[2] == "bands" else None
    if band and mine > key_column(before):
        message = f"the band stands on a line of its own below `bands:`; write `bands:` and, below it, `  {band}:`."
        page.tell(above[-1], message, "bands: {}")
        while at < len(page.lines) and (not page.lines[at].strip() or indented(page.lines[at]) > key_column(before)):
            page.lines[at] = ""
            at += 1
        return
    if complete(before) and mine > key_column(before):
        to = key_column(before) if not line.lstrip().startswith("-") else indented(before)
        deeper(page, at, above[-1], to)
        return
    dash = re.match(r"(\s*)-\s+(.*)$", line)
    holder = list_of(line) if stray else ""
    if holder and stray:
        page.tell(at, f"this is an entry of `{holder}:`; write `{holder}:` in a line of its own above it.", "")
        return
    if dash and not listed_above(page, at, above):
        page.tell(at, f"a dash begins an entry of a list, and none is open here; write `{RIGHT}`.", dash[1] + dash[2])
        return
    dashes = [one for one in above if page.lines[one].lstrip().startswith("-")]
    if dash and dashes and mine < indented(page.lines[dashes[-1]]) and not opened(page, at, above):
        to = indented(page.lines[dashes[-1]])
        message = (
            f"the line begins with {spaces(mine)}, the entry of line {dashes[-1] + 1} with {to}; begin it with {to}"
        )
        page.tell(at, f"{message}: `{RIGHT}`.", " " * to + line.lstrip())
        return
    columns = open_columns(page, above)
    if mine > max(columns) or mine in columns or dash:
        return
    outermost = PAIR.match(without_comment(line)) and all(
        strays(line, pair[2]) for one in above if (pair := PAIR.match(without_comment(page.lines[one])))
    )
    to = 0 if outermost else min(columns, key=lambda column: (abs(column - mine), -column))
    there = next(
        (one for one in reversed(above) if to in (indented(page.lines[one]), key_column(page.lines[one]))), None
    )
    if there is not None and stands_out(page, there, at):
        beside = f", line {at + 1} of the same level with {mine}"
        message = f"the line begins with {spaces(to)}{beside}; begin it with {mine}: `{RIGHT}`."
        page.tell(there, message, " " * mine + page.lines[there].lstrip())
        return
    beside = "" if there is None else f", line {there + 1} of the same level with {to}"
    message = f"the line begins with {spaces(mine)}{beside}; begin it with {to or 'none'}: `{RIGHT}`."
    page.tell(at, message, " " * to + line.lstrip())


def stands_out(page: Page, there: int, at: int) -> bool:
    """Whether the first line of a group lies deeper than all that follow it, two or more in one column."""
    mine, further = indented(page.lines[at]), 0
    if indented(page.lines[there]) <= mine or mine == 0:
        return False
    if any(indented(line) == indented(page.lines[there]) for line in page.lines[there + 1 : at]):
        return False
    for line in page.lines[at:]:
        body = without_comment(line)
        if body.strip() and indented(line) < mine:
            break
        further += bool(body.strip()) and indented(line) == mine
    return further > 1


def outside_of_lists(page: Page, at: int, above: list[int]) -> bool:
    """Whether no key of a list holds this line."""
    for one in reversed(above):
        body = without_comment(page.lines[one])
        pair = PAIR.match(body)
        if not pair or pair[1].strip() or indented(body) > indented(page.lines[at]):
            continue
        return complete(body) or pair[2] == "bands" or bool(keys_said.is_band(pair[2]))
    return not above


def list_of(line: str) -> str:
    """The list whose entry a line is, by its keys; empty where that is not sure."""
    words = re.findall(r"([a-z_]+):\s", line)
    placed = [place for root in (Station, Season) for name in words for place in keys_said.places(root).get(name, ())]
    fits = [key for key in GROUP_LISTS if words and sum(place.startswith(f"{key}.") for place in placed) >= len(words)]
    return fits[0] if len(fits) == 1 else ""


def listed_above(page: Page, at: int, above: list[int]) -> bool:
    """Whether a line with a dash goes on with a list or begins one."""
    mine = indented(page.lines[at])
    for one in reversed(above):
        body = without_comment(page.lines[one])
        if indented(body) <= mine:
            return body.lstrip().startswith("-") or not complete(body)
    return False


def spaces(count: int) -> str:
    """`1 space`, `3 spaces`."""
    return f"{count} space{'' if count == 1 else 's'}"


def deeper(page: Page, at: int, before: int, to: int) -> None:
    """A line that lies deeper than a complete one."""
    line = page.lines[at]
    message = (
        f"the line begins with {spaces(indented(line))}, deeper than line {before + 1}, which has its value already; "
        f"begin it with {spaces(to) if to else 'none'}: `{RIGHT}`."
    )
    page.tell(at, message, " " * to + line.lstrip())


def open_columns(page: Page, above: list[int]) -> list[int]:
    """The columns in which a line may begin: those of the groups that are open above it."""
    found: list[int] = []
    least = 10_000
    for one in reversed(above):
        body = page.lines[one]
        # A key never begins in the column of a dash.
        for column in (key_column(body),) if body.lstrip().startswith("-") else (key_column(body), indented(body)):
            if column < least:
                found.append(column)
                least = column
    return found or [0]


def opened(page: Page, at: int, above: list[int]) -> bool:
    """Whether an active key above, without a value of its own, holds this line."""
    mine = indented(page.lines[at])
    for one in reversed(above):
        body = without_comment(page.lines[one])
        if indented(body) < mine or (indented(body) == mine and page.lines[at].lstrip().startswith("-")):
            if not complete(body) and not re.match(r"\s*-\s+[{\[]", body):
                return True
            if indented(body) < mine:
                return not complete(body)
    return False


def commented_parent(page: Page, at: int) -> int | None:
    """The commented key below which a freed line stood; None where its group is active or there is none."""
    mine = indented(page.lines[at])
    for number in range(at - 1, -1, -1):
        line = page.lines[number]
        found = COMMENTED.match(line)
        if found and not line.startswith("# ") and len(found[1]) < mine and is_key(found[2]) and opens(found[3]):
            return None if strays(page.lines[at], found[2]) else number
        body = without_comment(line)
        if body.strip() and indented(body) < mine:
            return None
    return None


def strays(line: str, group: str = "") -> bool:
    """Whether a line's key is one of the left margin and none of a group's own."""
    pair = PAIR.match(without_comment(line))
    if not pair or pair[1].strip():
        return False
    placed = [place for root in (Station, Season) for place in keys_said.places(root).get(pair[2], ())]
    return pair[2] in placed and not any(group in place.split(".")[:-1] for place in placed)


def is_foreign(line: str, heading: str) -> bool:
    """Whether a line's key is one of the contract, and none of the group of a heading at the left margin."""
    pair, group = PAIR.match(without_comment(line)), PAIR.match(heading)
    if not pair or pair[1].strip() or not group or indented(heading):
        return False
    placed = [place for root in (Station, Season) for place in keys_said.places(root).get(pair[2], ())]
    return bool(placed) and not any(group[2] in place.split(".")[:-1] for place in placed)


def opens(value: str | None) -> bool:
    """Whether a commented key holds lines below it, or a bracket that goes on in the next."""
    return not value or value.count("{") > value.count("}")


def lists(page: Page) -> None:
    """Entries of a list without their dashes, with too many, or without a blank behind them."""
    key, holder, entry = "", -1, set[str]()
    for at, line in enumerate(page.lines):
        body = without_comment(line)
        if not body.strip() or page.inside[at]:
            continue
        pair, dash = PAIR.match(body), body.lstrip().startswith("-")
        below = holder >= 0 and indented(line) > indented(page.lines[holder])
        if pair and key in GROUP_LISTS and below:
            if dash and len(entry) in (1, 2) and pair[2] in PARTED and pair[2] not in entry:
                inside = line.replace("-", " ", 1)
                column = f"{spaces(indented(inside))} before the others"
                page.tell(
                    at, f"one entry of a list has one dash, in its first line, and {column}; write `{RIGHT}`.", inside
                )
                entry |= {pair[2]}
                continue
            entry = {pair[2]} if dash else entry | {pair[2]}
        if pair and dash and key == "checklist" and pair[3] and pair[3][0] not in "\"'":
            lead, text = re.match(r"(\s*-\s+)(.*)$", body).groups()  # type: ignore[union-attr]
            quoted = text.replace('"', "'")
            page.tell(at, f"text with a colon stands in quotes; write `{RIGHT}`.", f'{lead}"{quoted}"')
        elif pair and dash and key == "bands" and keys_said.is_band(pair[2]):
            page.tell(at, f"a band has no dash; write `{RIGHT}`.", line.replace("- ", "", 1))
        elif pair and not dash and not (below and key in GROUP_LISTS):
            key, holder, entry = (pair[2], at, set()) if not pair[3] else ("", -1, set())
        elif not (pair and not dash) and key in {*GROUP_LISTS, *WORD_LISTS}:
            undashed(page, at, key, holder)


def undashed(page: Page, at: int, key: str, holder: int) -> None:
    """One line of a list."""
    line = page.lines[at]
    text = without_comment(line).strip()
    tight = re.match(r"-([^\s\-].*)$", text)
    star = re.match(r"\*\s+(.*)$", text) or re.match(r"\d+[.)]\s+(\S.*)$", text)
    beside = [one for one in page.lines[holder + 1 : at + 2] if re.match(r"\s*-\s", one)]
    lead = " " * max(indented(beside[0]) if beside else indented(line), indented(page.lines[holder]))
    above = next((one for one in reversed(page.lines[holder + 1 : at]) if one.strip()), "")
    if key == "checklist" and text[0].islower() and re.match(r"\s*-\s", above):
        further = indented(above) + 2
        message = f"this line goes on with the entry above; begin it with {spaces(further)}: `{RIGHT}`."
        page.tell(at, message, " " * further + text)
    elif tight:
        page.tell(at, f"the dash of a list has a space behind it; write `{RIGHT}`.", f"{lead}- {tight[1]}")
    elif star:
        page.tell(at, f"an entry of a list begins with a dash; write `{RIGHT}`.", f"{lead}- {star[1]}")
    elif (text[0] == "{" and key in GROUP_LISTS) or (text[0] not in "-[{\"'" and several(page, holder)):
        column = "" if len(lead) == indented(line) else f" behind {spaces(len(lead))}"
        page.tell(
            at, f"an entry of a list begins with a dash{column}; write `{RIGHT}`.", f"{lead}- {text.rstrip(',;')}"
        )


def several(page: Page, holder: int) -> bool:
    """Whether two lines or more stand below a key, each a word or text of its own."""
    count = 0
    for line in page.lines[holder + 1 :]:
        body = without_comment(line)
        if not body.strip():
            continue
        if PAIR.match(body) or indented(body) < indented(page.lines[holder]):
            break
        count += 1
    return count > 1
