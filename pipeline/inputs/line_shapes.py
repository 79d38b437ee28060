"""The shape of each line of a station or season file, looked at before it is parsed: what an editor or hand left there.

Text to faults with their lines, each with the line as it should be; and the text put right as far as that is sure, so
that whatever else is wrong can be told in the same go.
"""

from __future__ import annotations

import re
from functools import cache, lru_cache
from pathlib import Path

from pipeline.inputs import keys_said
from pipeline.inputs.character_shapes import characters, tabs
from pipeline.inputs.line_scan import (
    GROUP_LISTS,
    KEY,
    LEAD,
    PAIR,
    RIGHT,
    SOUND,
    TEXTS,
    WORD_LISTS,
    Page,
    Shape,
    blanked,
    goes_on,
    indented,
    is_key,
    note_insides,
    without_comment,
)
from pipeline.inputs.model import Season, Station
from pipeline.inputs.numbers_said import LEAVE_OUT

# The commented files that `new` lays out: their explanations are known by heart here.
LAYOUT = Path(__file__).resolve().parent.parent / "data" / "new_folder"
MOST = 20
# Lines that one fault shows.
LONGEST_SHOWN, LONGEST_LINE_SHOWN = 400, 200
MOST_SHOWN = 6
LONGEST_LINE = 2000
NOTE_MARKS = re.compile(r"(\s*)(//+|;+|--+|/\*|<!--|'(?=[^']*$)|REM\b)\s*(.*)$")
# Marks that people put where a colon is meant.
NO_COLON = re.compile(rf"{LEAD}({KEY})(?:\s*(=>|->|:=|::|=|;|\u2192|[.,](?=\s))\s*|\s+(-)\s+)(.*)$")
# Keys that are everyday words as well: a line of text may go on with them.
EVERYDAY = re.compile(r"[a-z]+$")


def shapes_of(text: str) -> tuple[list[Shape], str]:
    """The faults of a text by its lines, at most MOST, and the text put right where that is sure."""
    told, mended = _looked_at(text)
    return list(told), mended


# A command reads its season again once it holds the record, and then the files are the same.
@lru_cache(maxsize=64)
def _looked_at(text: str) -> tuple[tuple[Shape, ...], str]:
    from pipeline.inputs import flow_shapes, group_shapes, level_shapes, repair

    page = Page(re.split(r"\r\n|\r|\n", text))
    original = list(page.lines)
    if max(map(len, page.lines)) > LONGEST_LINE:
        return (), text  # nothing that a person wrote
    characters(page)
    tabs(page)
    note_insides(page)
    for at, line in enumerate(page.lines):
        if line.strip() and not line.lstrip().startswith("#"):
            one_line(page, at, line)
    flow_shapes.look(page)
    note_insides(page)
    level_shapes.look(page)
    group_shapes.look(page)
    repair.look(page, original)
    return tuple(told_of(page)[:MOST]), "\n".join(page.lines)


def told_of(page: Page) -> list[Shape]:
    """The faults in the order of their lines; the same one in lines near each other is told once, with all."""
    runs: list[list[int]] = []
    for at, shape in sorted(page.found.items()):
        above = page.found[runs[-1][-1]] if runs else None
        again = above and RIGHT in shape.message and shape.message == above.message and at <= runs[-1][-1] + 2
        if again:
            runs[-1].append(at)
        else:
            runs.append([at])
    told = []
    for run in runs:
        shape = page.found[run[0]]
        rights = [f"`{shown(page.lines[at])}`" for at in run]
        right, count = rights[0], 1
        while count < min(len(run), MOST_SHOWN) and len(right) + len(rights[count]) < LONGEST_SHOWN:
            right += f", in line {run[count] + 1} {rights[count]}"
            count += 1
        right += f", and the lines to {run[-1] + 1} likewise" if len(run) > count else ""
        told.append(Shape(shape.line, shape.message.replace(f"`{RIGHT}`", right).replace(RIGHT, rights[0])))
    return told


def shown(line: str) -> str:
    """A line as a message shows it."""
    text = without_comment(line).strip()
    return text if len(text) <= LONGEST_LINE_SHOWN else f"{text[: LONGEST_LINE_SHOWN - 3]}..."


@cache
def explanations() -> frozenset[str]:
    """The lines of explanation in the files that are laid out, without what sets them off as comments."""
    lines = [line for file in LAYOUT.glob("*.yaml") for line in file.read_text("utf-8").splitlines()]
    return frozenset(line.strip().lstrip("# ") for line in lines if re.match(r"\s*# (?! )", line))


def one_line(page: Page, at: int, line: str) -> None:
    """What one line alone shows."""
    if page.inside[at] or SOUND.fullmatch(line):
        return
    body = without_comment(line)
    words = body.strip().lstrip("-# ")
    if words in explanations() or page.lines[at].strip() in explanations():
        message = f"this line is an explanation that lost its #; put `# ` back before it{example_in(words)}."
        page.tell(at, message, f"# {line}")
        return
    mail = re.match(r">+ ?(.*)$", line)
    if mail:
        page.tell(at, f"the mark > of an answered mail stands before the line; take it away: `{RIGHT}`.", mail[1])
        return
    marks = re.match(r"(\s*)(?:--+|[=+>*]|->|=>)\s*([{\[].*)$", line)
    if marks:
        page.tell(at, f"an entry of a list begins with one dash; write `{RIGHT}`.", f"{marks[1]}- {marks[2]}")
        return
    note = NOTE_MARKS.match(line)
    if note and not re.match(r"\s*--+\s*$|\s*---", line):
        page.tell(at, f"a note begins with #; write `# {note[3].strip()}`.", f"{note[1]}# {note[3]}")
        return
    whole = re.match(rf"(\s*)[\"']({KEY}:(?:\s.*)?)[\"']$", body)
    if whole and is_key(whole[2].split(":")[0]):
        page.tell(at, f"quotes stand about the whole line; write `{RIGHT}`.", whole[1] + whole[2])
        return
    if of_another_kind(page, at, body):
        return
    without_colon(page, at, body)
    second_colon(page, at, without_comment(page.lines[at]))
    kept_marks(page, at, without_comment(page.lines[at]))
    quotes(page, at, without_comment(page.lines[at]))
    no_value(page, at, without_comment(page.lines[at]))


def of_another_kind(page: Page, at: int, body: str) -> bool:
    """A line with the marks of a chat, a page of the web or another kind of settings file; whether it was one."""
    pasted = re.match(rf"(\s*)(?:\*\*|__|`)({KEY})(?:\*\*|__|`)?\s*:(?:\*\*|__|`)?\s*(.*?)`?$", body)
    if pasted and is_key(pasted[2]):
        message = f"marks of a chat or a web page stand about the key; write `{RIGHT}`."
        indent = pasted[1] or (" " * indented(next((one for one in reversed(page.lines[:at]) if PAIR.match(one)), "")))
        page.tell(at, message, f"{indent}{pasted[2]}: {pasted[3]}")
        return True
    section = re.match(r"\s*\[\s*([\w.]+)\s*\]\s*$", body)
    if section and is_key(section[1].split(".")[0]):
        steps = re.sub(r"\b1\.25", "1\0", section[1]).split(".")
        told = ", and below it ".join(f"`{'  ' * deep}{word}:`".replace("\0", ".25") for deep, word in enumerate(steps))
        page.tell(at, f"a heading has no brackets; write {told}, and what belongs to it further in.", f"{steps[0]}:")
        return True
    tagged = re.match(rf"(\s*)<({KEY})>(.*)</\2>\s*$", body)
    if tagged and is_key(tagged[2]):
        page.tell(
            at, f"keys stand before a colon, not in tags; write `{RIGHT}`.", f"{tagged[1]}{tagged[2]}: {tagged[3]}"
        )
        return True
    if re.match(r"\s*(```|~~~)", body):
        page.tell(at, "the line is a mark of a chat or a web page, not part of the file; take it out.", f"# {body}")
        return True
    return False


def example_in(words: str) -> str:
    """The example that an explanation ends with."""
    found = re.search(r":  (\w+: .*)$", words)
    return f", and write `{found[1]}` on a line of its own if you want that" if found else ""


def without_colon(page: Page, at: int, body: str) -> None:
    """A key with another mark for its colon, with no blank behind it, or with neither."""
    if re.match(rf"{LEAD}[\[{{\"'|>]", body):
        return
    other = NO_COLON.match(body)
    if other and is_meant(page, at, other) and not re.search(r":\s", body[: other.start(5)].rstrip(": =>;-")):
        right = f"{other[1]}{other[2]}: {other[5]}".rstrip()
        page.tell(at, f"'{other[3] or other[4]}' stands where a colon is meant; write `{RIGHT}`.", right)
        return
    lone = re.match(rf"{LEAD}({KEY})\s*:\s*([,;.]+)$", body)
    if lone and is_key(lone[2]) and (opens_a_group(page, at) or column_of_next_entry(page, at) is not None):
        page.tell(at, f"'{lone[3]}' stands behind the colon; write `{RIGHT}`.", f"{lone[1]}{lone[2]}:")
        return
    tight = re.match(rf"{LEAD}({KEY})\s*:([^\s:/\\].*)$", body)
    if tight and (is_key(tight[2]) or keys_said.keys_meant(tight[2])) and not tight[2][0].isdigit():
        page.tell(at, f"there is no space after the colon; write `{RIGHT}`.", f"{tight[1]}{tight[2]}: {tight[3]}")
        return
    missing = re.match(rf"{LEAD}({KEY})(?:\s+([^:\s].*))?$", body)
    word_for_key = bool(
        missing and keys_said.keys_meant(missing[2]) and len(body.split()) == 2 and not goes_on(page, at)
    )
    if not missing or missing[1].strip() or not (is_key(missing[2]) or word_for_key):
        no_key(page, at, body)
        return
    key, value = missing[2], missing[3]
    if (goes_on(page, at) and EVERYDAY.match(key)) or (value and ": " in value and not value.startswith(("{", "["))):
        return
    if value is None and (key[0].isdigit() or not opens_a_group(page, at)) and in_a_list(page, at):
        return
    page.tell(at, f"a key without a colon; write `{RIGHT}`.", f"{missing[1]}{key}: {value or ''}".rstrip())


def no_key(page: Page, at: int, body: str) -> None:
    """A line of words or marks that is no key, no entry of a list and no rest of a text above."""
    if ":" in body or body.lstrip()[0] in "-{[\"'|>?" or re.match(r"\s*\*\s", body) or goes_on(page, at):
        return
    above = next((line for line in reversed(page.lines[:at]) if without_comment(line).strip()), "")
    pair = PAIR.match(without_comment(above))
    if pair and not pair[3] and indented(body) > indented(above):
        return  # the value of the key above
    if pair and not pair[3] and pair[2] in GROUP_LISTS and not pair[1].strip():
        return  # an entry of the list above, told as such
    if pair and not pair[3] and is_key(pair[2]) and pair[2] not in (*GROUP_LISTS, *WORD_LISTS) and is_value(pair[2]):
        right = f"{pair[1]}{pair[2]}: {body.strip()}"
        where = f"write in line {page.lines.index(above) + 1} `{right.strip()}`"
        page.tell(at, f"a value stands in the line of its key; {where}, and take line {at + 1} out.", "")
        page.lines[page.lines.index(above)] = right
        return
    if in_a_list(page, at) or body.strip() in ("...", "%") or page.lines[at].startswith("%"):
        return
    page.tell(at, "this line is no key with its value; put `# ` before it if it is a note.", f"# {body}")


def is_value(key: str) -> bool:
    """Whether a key holds one value and no keys of its own."""
    placed = [place for root in (Station, Season) for places in keys_said.places(root).values() for place in places]
    return not any(f".{place}".rpartition(".")[0].endswith(f".{key}") for place in placed)


def is_meant(page: Page, at: int, other: re.Match[str]) -> bool:
    """Whether a word before another mark than a colon is a key; before `=` any word is, but in a list of texts."""
    word = other[2]
    if other[1].strip() or other[4]:
        return is_key(word) and not (other[4] and goes_on(page, at))
    if other[3] in ".,":
        return is_key(word) and ("_" in word or len(other[5].split()) == 1)
    return other[3] == "=" or is_key(word) or bool(keys_said.keys_meant(word))


def opens_a_group(page: Page, at: int) -> bool:
    """Whether the next line lies deeper."""
    following = next((line for line in page.lines[at + 1 :] if without_comment(line).strip()), "")
    return indented(following) > indented(page.lines[at])


def in_a_list(page: Page, at: int) -> bool:
    """Whether the words of a list stand around a line, one a line."""
    for line in reversed(page.lines[:at]):
        pair = PAIR.match(without_comment(line))
        if pair:
            return not pair[3] and pair[2] in WORD_LISTS
    return False


def holder_of(page: Page, at: int) -> str:
    """The key of the group in which a line stands: of the nearest line above that lies less deep."""
    for line in reversed(page.lines[:at]):
        pair = PAIR.match(without_comment(line))
        if pair and indented(line) < indented(page.lines[at]):
            return str(pair[2])
    return ""


def second_colon(page: Page, at: int, body: str) -> None:
    """A value that holds a colon and a blank: text without quotes, keys without braces, or two keys in one line."""
    listed = re.match(r"(\s*-\s+)\((.*:.*)\)$", body)
    if listed:
        page.tell(at, f"keys and values stand in braces; write `{RIGHT}`.", f"{listed[1]}{{{listed[2]}}}")
        return
    pair = PAIR.match(body)
    value = pair[3] if pair else None
    if value and value.endswith("}") and "{" not in value:
        return  # the rest of a bracket, whose beginning may still be a comment
    if pair and value and re.fullmatch(r"\(.*:.*\)|<.*:.*>", value):
        page.tell(at, f"keys and values stand in braces; write `{RIGHT}`.", f"{body[: pair.start(3)]}{{{value[1:-1]}}}")
        return
    if not pair or not value or value[0] in "\"'[{|>&*!#-" or not re.search(r":(\s|$)", value):
        return
    inner = re.match(rf"({KEY}):(\s|$)", value)
    if keys_said.is_band(value.rstrip(": ")):
        return  # told with the lines below it
    head = body[: pair.start(3)]
    if inner and is_key(inner[1]) and pair[2] not in TEXTS:
        page.tell(at, f"keys in one line stand in braces; write `{RIGHT}`.", f"{head}{{{value}}}")
        return
    further = re.search(rf"[\s,;]+({KEY}):(?:\s|$)", value)
    if further and is_key(further[1]) and holder_of(page, at) in GROUP_LISTS:
        entry = f"{pair[1]}{'' if '-' in pair[1] else '- '}{{{body[len(pair[1]) :].rstrip(',;')}}}"
        page.tell(at, f"keys in one line stand in braces; write `{RIGHT}`.", entry)
        return
    if further and is_key(further[1]) and not pair[1].strip():
        first = value[: further.start()]
        message = (
            f"two keys stand in one line; write `{head.strip()} {first}` and begin a new line before {further[1]}."
        )
        page.tell(at, message, value[further.start(1) :] if value.endswith(":") else f"{head}{first}")
        return
    if further and is_key(further[1]):
        lead = pair[1]
        page.tell(at, f"keys in one line stand in braces; write `{RIGHT}`.", f"{lead}{{{body[len(lead) :]}}}")
        return
    message = f"the line holds a second colon; put text with a colon in quotes: `{RIGHT}`."
    page.tell(at, message, f'{head}"{value.replace(chr(34), chr(39))}"')


def kept_marks(page: Page, at: int, body: str) -> None:
    """A text that begins with a mark that YAML keeps for itself, or with a dash."""
    pair = PAIR.match(body)
    if not pair or not is_key(pair[2]) or not pair[3] or len(pair[3]) < 3:
        return
    value, head = pair[3], body[: pair.start(3)]
    if re.match(r"[@`%]|[*&]\w.*\W|!(?!!)|[>|](?![+\-\d\s])", value):
        message = f"a value begins with a character that YAML keeps; put the value in quotes: `{RIGHT}`."
        page.tell(at, message, f'{head}"{value.replace(chr(34), chr(39))}"')
    elif re.match(r"-\s+\S", value) and (column := column_of_next_entry(page, at)) is not None:
        own = f"write `{pair[2]}:` and, below it in the column of the next, `{' ' * column}{value}`"
        page.tell(at, f"the first entry stands in a line of its own: {own}.", f"{pair[1]}{pair[2]}:")
    elif re.match(r"-\s+\S", value):
        message = f"a dash stands where none is meant; write `{RIGHT}`, and entries of a list on lines of their own."
        page.tell(at, message, f"{head}{value[1:].lstrip()}")


def column_of_next_entry(page: Page, at: int) -> int | None:
    """Where the next line that holds something begins, if it does with a dash."""
    following = next((line for line in page.lines[at + 1 :] if without_comment(line).strip()), "")
    return indented(following) if following.lstrip().startswith("- ") else None


def quotes(page: Page, at: int, body: str) -> None:
    """Quotes that are not closed in their line, or that an apostrophe closes too early."""
    found = re.match(rf"((?:\s*-\s+)?(?:\s*{KEY}:\s+)?)([\"'])(.*)$", body)
    if not found:
        return
    head, mark, rest = found.groups()
    text, _, open_quote = blanked(body)
    following = next((line for line in page.lines[at + 1 :] if line.strip()), "")
    ends_here = not following or bool(PAIR.match(without_comment(following))) or following.lstrip()[0] in "#-"
    closed = text.find('"', len(head) + 1)
    behind = text[closed + 1 :].strip() if closed > 0 else ""
    last = rest.rfind(mark)
    if open_quote and ends_here and ":" in head and last < 0:
        message = f"the quotation mark that opens here is not closed; write `{RIGHT}`."
        page.tell(at, message, f"{head}{mark}{rest}{mark}")
    elif (behind and not behind.startswith(":")) or (open_quote and ends_here and last >= 0):
        whole = (rest[:last] + rest[last + 1 :]).strip().replace('"', "'")
        page.tell(at, f"quotes end before the text does; write `{RIGHT}`.", f'{head}"{whole}"')


def no_value(page: Page, at: int, body: str) -> None:
    """A lone mark that stands for `nobody knows`."""
    pair = PAIR.match(body)
    if pair and pair[3] and re.match(r",\d", pair[3]):
        right = f"{body[: pair.start(3)]}0.{pair[3][1:]}"
        page.tell(at, f"a number begins with a digit, and a point parts its decimals; write `{RIGHT}`.", right)
    elif pair and pair[3] and re.fullmatch(r"[-?!*&%@|>]{1,3}", pair[3]):
        page.tell(at, f"{pair[2]} is '{pair[3]}'; {LEAVE_OUT}", f"{pair[1]}{pair[2]}:")  # fmt: skip
