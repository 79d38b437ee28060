"""Groups of a station or season file as a whole: a key freed without the lines below it, and a group that stands twice.

From the page of lines whose own shapes were looked at before; nothing is put right, as the lines below decide.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from pipeline.inputs.line_scan import GROUP_LISTS, KEY, PAIR, Page, indented, without_comment

# Groups that mean nothing without what stands below them.
FILLED = (*GROUP_LISTS, "sites")
# An entry or a key that is commented out; words behind `# - ` are a note.
COMMENTED_ROW = re.compile(rf"\s*#(?:(?:\s{{2,}})?-\s+\S|\s-\s+(?:[{{\[]|{KEY}:\s)|\s{{2,}}{KEY}:(?:\s|$))")
COMMENTED_REST = re.compile(r"\s*#\s{3,}\S")


def look(page: Page) -> None:
    """Every key without a value of its own."""
    first: dict[str, int] = {}
    for at, line in enumerate(page.lines):
        pair = PAIR.match(without_comment(line))
        if page.inside[at] or not pair or pair[1].strip() or pair[3]:
            continue
        if pair[2] in FILLED:
            half_freed(page, at, pair[2])
        if not indented(line) and first.setdefault(pair[2], at) != at:
            again(page, first[pair[2]], at)


def half_freed(page: Page, at: int, key: str) -> None:
    """A key whose lines below are all comments still."""
    last = at
    for number, line in enumerate(page.lines[at + 1 :], at + 1):
        if not COMMENTED_ROW.match(line) and (last == at or not COMMENTED_REST.match(line)):
            break
        last = number
    following = next((line for line in page.lines[last + 1 :] if without_comment(line).strip()), "")
    dashed = following.lstrip().startswith("-") and indented(following) == indented(page.lines[at])
    if last == at or indented(following) > indented(page.lines[at]) or dashed:
        return
    what = {"horizon": "points"}.get(key, "entries")
    if last == at + 1:
        where = f"line {at + 2} is still a comment; take its"
    else:
        where = f"lines {at + 2} {'and' if last == at + 2 else 'to'} {last + 1} are still comments; take their"
    page.tell(at, f"{key} has no {what}; {where} # away too.")


def again(page: Page, first: int, second: int) -> None:
    """A group that stands twice with different keys: those of the second belong to the first."""
    known, new = dict(keys_below(page, first)), dict(keys_below(page, second))
    if not known or not new or known.keys() & new.keys():
        return
    beside, there = list(known.items())[-1]
    keys = ", ".join(f"`{key}:`" for key in new)
    key = without_comment(page.lines[second]).strip(" :")
    message = f"{key} stands in line {first + 1} already; put {keys} beneath `{beside}` of line {there + 1}"
    page.tell(second, f"{message}, in the same column, and take line {second + 1} out.")


def keys_below(page: Page, at: int) -> Iterator[tuple[str, int]]:
    """The keys of a group with their lines, those of its own level."""
    level = 0
    for number in range(at + 1, len(page.lines)):
        body = without_comment(page.lines[number])
        if not body.strip() or page.inside[number]:
            continue
        if indented(body) <= indented(page.lines[at]):
            return
        level = level or indented(body)
        pair = PAIR.match(body)
        if pair and not pair[1].strip() and indented(body) == level:
            yield pair[2], number
