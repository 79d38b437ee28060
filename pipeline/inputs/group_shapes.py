"""Groups of a station or season file as a whole: a key freed without the lines below it, and a group that stands twice.

From the page of lines whose own shapes were looked at before; nothing is put right, as the lines below decide.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from pipeline.inputs import keys_said
from pipeline.inputs.line_scan import GROUP_LISTS, KEY, PAIR, RIGHT, Page, indented, without_comment

# Groups that mean nothing without what stands below them.
FILLED = (*GROUP_LISTS, "sites")
# Keys of a band's equipment with which a group of bands may begin.
EQUIPMENT = ("antenna", "power_w", "noise_figure_db", "loss_before_preamplifier_db", "polarization", "modes")
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
        if pair[2] == "bands" and not indented(line):
            without_band(page, at)
            band_at_margin(page, at)
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


def without_band(page: Page, at: int) -> None:
    """Equipment right below `bands:`, where the line with the band is missing."""
    below = [
        number
        for number in range(at + 1, end_of_group(page, at))
        if without_comment(page.lines[number]).strip() and not page.inside[number]
    ]
    first = PAIR.match(without_comment(page.lines[below[0]])) if below else None
    is_told = any(number in page.found for number in range(at, end_of_group(page, at)))
    if not first or first[1].strip() or first[2] not in EQUIPMENT or is_told:
        return
    further = "" if indented(page.lines[below[0]]) > 2 else ", and begin the lines below it two further in"
    message = f"the line with the band is missing; write `  3cm:`, or which band it is, above this line{further}."
    page.tell(below[0], message, "")
    for number in range(at, end_of_group(page, at)):
        page.lines[number] = "bands: {}" if number == at else ""


def band_at_margin(page: Page, at: int) -> None:
    """The line of a band in the column of `bands:`, right below it."""
    below = next((n for n in range(at + 1, len(page.lines)) if without_comment(page.lines[n]).strip()), at)
    band = PAIR.match(without_comment(page.lines[below]))
    if below == at or not band or band[3] or indented(page.lines[below]) or not keys_said.is_band(band[2]):
        return
    inside = range(below + 1, end_of_group(page, below))
    near = [n for n in inside if page.lines[n].strip() and 0 < indented(page.lines[n]) <= 2]
    further = ", and begin the lines below it two further in" if near else ""
    page.tell(
        below, f"the band belongs to `bands:`; begin its line with 2 spaces: `{RIGHT}`{further}.", f"  {band[2]}:"
    )
    for number in inside if near else ():
        page.lines[number] = f"  {page.lines[number]}"


def end_of_group(page: Page, at: int) -> int:
    """The line behind the last of a group."""
    for number in range(at + 1, len(page.lines)):
        body = without_comment(page.lines[number])
        if body.strip() and indented(body) <= indented(page.lines[at]):
            return number
    return len(page.lines)


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
