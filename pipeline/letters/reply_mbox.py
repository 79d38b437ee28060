"""Answers from wherever they were saved: a folder, a Maildir, one file, or many mails in a single one (mbox, RFC 4155).

The standard library parts a mailbox into its mails; each is read like a file of its own, under the same bounds.
"""

from __future__ import annotations

import mailbox
import re
from pathlib import Path

from pipeline.inputs.bounds import MAILBOX, MOST_FILES, REPLY
from pipeline.letters.reply_mail import SUFFIXES, Mail, read_file, read_folder, read_mail, unread

FIRST = b"From "
# What mail programs change in a mail that stays where it is: read, marked, numbered.
MARKS = re.compile(rb"(?im)^(?:x-)?(?:[a-z]+-)?(?:status2?|keys|keywords|uid):.*(?:\r?\n[ \t].*)*\r?\n")
BLANK = re.compile(rb"\n\r?\n")


def read_answers(place: Path) -> tuple[Mail, ...]:
    """All mails and calendar files of a folder, or of one file."""
    if place.is_dir():
        return read_folder(place)
    if place.suffix.lower() in SUFFIXES:
        return (read_file(place),)
    try:
        if not place.is_file():
            return (unread(place, "it is no ordinary file"),)
        if place.stat().st_size > MAILBOX.largest_bytes:
            return (unread(place, MAILBOX.words("it")),)
        with place.open("rb") as file:
            start = file.read(len(FIRST))
        if not start:
            return ()
        if start != FIRST:
            return (unread(place, "it is no mailbox, for it does not begin with a line `From `"),)
        return _mails(place)
    except (OSError, mailbox.Error) as error:
        why = getattr(error, "strerror", None) or "unknown reason"
        return (unread(place, f"it cannot be read ({why.lower()})"),)


def _mails(place: Path) -> tuple[Mail, ...]:
    """The mails of a mailbox in its order, which is that of their coming; of more than can be read the last ones."""
    box = mailbox.mbox(place, create=False)
    try:
        keys = box.keys()
        left = len(keys) - MOST_FILES
        names = [f"{place.name}, mail {number:,}" for number in range(1, len(keys) + 1)]
        mails = [
            _mail(box.get_bytes(key), name, place)
            for key, name in zip(keys[-MOST_FILES:], names[-MOST_FILES:], strict=True)
        ]
    finally:
        box.close()
    if left <= 0:
        return tuple(mails)
    return (unread(place, f"it holds {len(keys):,} mails; {MOST_FILES:,} are read at once, the last ones"), *mails)


def _mail(raw: bytes, name: str, place: Path) -> Mail:
    """One mail as it came, without what programs have noted in its head."""
    if len(raw) > REPLY.largest_bytes:
        return unread(place.with_name(name), REPLY.words("it"))
    blank = BLANK.search(raw)
    end = blank.end() if blank else len(raw)
    return read_mail(MARKS.sub(b"", raw[:end]) + raw[end:], name)
