"""Folders and files with answers to their parts: mails (RFC 5322, 2045), bare calendar files; bounds on everything.

Nothing in a mail is run, followed or written; headers and charsets may be as broken as they like. A folder holds files
with the endings .eml and .ics, or is a Maildir: one mail a file in `cur` and `new`, unfinished ones in `tmp`.
"""

from __future__ import annotations

import datetime as dt
import email.errors
import email.header
import email.parser
import email.policy
import email.utils
import hashlib
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from email.message import Message
from pathlib import Path

from pipeline.inputs.bounds import MOST_FILES, MOST_PARTS, REPLY, TooMuch
from pipeline.letters.reply_calendar import EventReply, read_calendar
from pipeline.letters.reply_text import spoken
from pipeline.letters.reply_trust import failed_authentication, from_addresses

LARGEST_HEAD_BYTES = 200_000
# People nest three or four deep; the parser's time grows with depth times length, and with the number of parts.
MOST_MULTIPARTS = 12
MOST_BOUNDARIES = 5_000
LONGEST_HEADER = 1_000
SUFFIXES = {".eml", ".ics"}
MAILDIR = ("cur", "new")
CALENDAR_TYPES = {"text/calendar", "application/ics", "text/x-vcalendar"}
# Whoever writes in another one is read as UTF-8: some of Python's codecs are no charsets and some are slow.
CHARSETS = re.compile(r"(utf-?8|us-ascii|iso-?8859-\d{1,2}|windows-125\d|koi8-[ru]|gb2312|gbk|gb18030|big5|shift_jis|euc-(jp|kr)|iso-2022-jp)")  # fmt: skip  # noqa: E501


@dataclass(frozen=True)
class Mail:
    """What one file holds. `fault` says why nothing else is filled; addresses are bare and in small letters.

    `senders` are those of all From headers; `failed` is what the receiving server found wrong with them; `lines` are
    the first ones that quote nothing. `digest` tells the file from every other one, `date_utc` is what it says itself.
    """

    file: str
    senders: tuple[str, ...] = ()
    subject: str = ""
    events: tuple[EventReply, ...] = ()
    bounced: tuple[str, ...] = ()
    automatic: bool = False
    fault: str = ""
    failed: str = ""
    lines: tuple[str, ...] = ()
    digest: str = ""
    date_utc: dt.datetime | None = None

    @property
    def sender(self) -> str:
        """The one who wrote it; empty where that is nobody, or more than one."""
        return self.senders[0] if len(self.senders) == 1 else ""


def read_folder(folder: Path) -> tuple[Mail, ...]:
    """All mails and calendar files of a folder itself, by name; of more than can be read the last ones."""
    files = files_of(folder)
    left = len(files) - MOST_FILES
    mails = tuple(read_file(path) for path in files[-MOST_FILES:])
    if left <= 0:
        return mails
    told = f"it holds {len(files):,} files; {MOST_FILES:,} are read at once, the last by name"
    return (Mail(folder.name, fault=told), *mails)


def files_of(folder: Path) -> list[Path]:
    """The files to read, by name: of a Maildir those of `cur` and `new`, else those with the right endings."""
    places = [folder / name for name in MAILDIR if (folder / name).is_dir()]
    if len(places) == len(MAILDIR):
        found = [path for place in places for path in place.iterdir() if not path.name.startswith(".")]
        return sorted(found, key=lambda path: (path.name, path.parent.name))
    return sorted(path for path in folder.iterdir() if path.suffix.lower() in SUFFIXES)


def read_file(path: Path) -> Mail:
    """One file; its name is all that is known of one that cannot be read."""
    try:
        if not path.is_file():
            return unread(path, "it is no ordinary file")
        raw = REPLY.read(path, "it")
    except TooMuch as much:
        return unread(path, str(much))
    except OSError as error:
        return unread(path, f"it cannot be read ({(error.strerror or 'unknown reason').lower()})")
    if path.suffix.lower() == ".ics":
        digest = hashlib.sha256(raw).hexdigest()
        try:
            return Mail(path.name, events=read_calendar(decoded(raw, "utf-8")), digest=digest)
        except TooMuch as much:
            return Mail(path.name, fault=str(much), digest=digest)
    return read_mail(raw, path.name)


def unread(path: Path, why: str) -> Mail:
    """A file of which nothing but the name is known."""
    return Mail(
        path.name, fault=why, digest=hashlib.sha256(f"{path.name}\n{why}".encode("utf-8", "replace")).hexdigest()
    )


def read_mail(raw: bytes, file: str) -> Mail:
    """One mail."""
    digest = hashlib.sha256(raw).hexdigest()
    fault = beyond_bounds(raw)
    if fault:
        return Mail(file, fault=fault, digest=digest)
    try:
        message = email.parser.BytesParser(policy=email.policy.compat32).parsebytes(raw)
        return replace(mail_of(message, file), digest=digest)
    except TooMuch as much:
        return Mail(file, fault=str(much), digest=digest)
    except (RecursionError, ValueError, LookupError, TypeError, AttributeError, email.errors.MessageError):
        # The standard parser is forgiving, and still meets mails that it cannot take.
        return Mail(file, fault="it is too broken to be read", digest=digest)


def beyond_bounds(raw: bytes) -> str:
    """Why a mail is not even parsed; empty where nothing speaks against it."""
    head = re.split(rb"\r?\n\r?\n", raw[: LARGEST_HEAD_BYTES + 4], maxsplit=1)[0]
    if len(head) > LARGEST_HEAD_BYTES:
        return f"its head is over {LARGEST_HEAD_BYTES:,} bytes, longer than any mail's"
    if (
        len(re.findall(rb"(?im)^content-type[ \t]*:[ \t]*(?:\r?\n[ \t]+)?(?:multipart|message)/", raw))
        > MOST_MULTIPARTS
    ):
        return f"it holds more than {MOST_MULTIPARTS} mails within mails, and nobody writes so many"
    return f"it holds more than {MOST_BOUNDARIES:,} parts" if raw.count(b"\n--") > MOST_BOUNDARIES else ""


def mail_of(message: Message, file: str) -> Mail:
    """What the parts of a mail say."""
    events: dict[tuple[object, ...], EventReply] = {}
    bounced: list[str] = []
    for part in parts_of(message):
        kind = part.get_content_type()
        name = header(part.get_filename() or "")
        if kind in CALENDAR_TYPES or name.lower().endswith(".ics"):
            method = part.get_param("method") if kind == "text/calendar" else ""
            for event in read_calendar(text_of(part), method if isinstance(method, str) else ""):
                # The same answer often comes twice, as a part and as a file.
                events.setdefault((event.method, event.uid, event.sequence, event.attendees), event)
        elif kind == "message/delivery-status":
            bounced += failed_recipients(part)
    senders = from_addresses(message.get_all("From", []))
    return Mail(
        file=file,
        senders=senders,
        subject=header(message.get("Subject", "")),
        events=tuple(events.values()),
        bounced=tuple(dict.fromkeys(bounced)),
        automatic=is_automatic(message),
        failed=failed_authentication(message.get_all("Authentication-Results", []), senders[0] if senders else ""),
        lines=spoken((part, text_of(part)) for part in texts_of(message)),
        date_utc=date_of(message),
    )


def date_of(message: Message) -> dt.datetime | None:
    """When a mail says that it was written; None where it does not say so plainly."""
    try:
        found = email.utils.parsedate_to_datetime(header(message.get("Date", "")))
        return found.astimezone(dt.UTC) if found.tzinfo else None
    except (ValueError, TypeError, OverflowError, IndexError):
        return None


def texts_of(message: Message) -> Iterator[Message]:
    """The parts that somebody wrote, not those that are attached as files."""
    for part in parts_of(message):
        if part.get_content_maintype() == "text" and part.get_content_disposition() != "attachment":
            yield part


def parts_of(message: Message) -> Iterator[Message]:
    """The parts of a mail that may say something. Raises TooMuch where there are more than anybody sends."""
    waiting, seen = [message], 0
    while waiting:
        seen += 1
        if seen > MOST_PARTS:
            raise TooMuch(f"it has more than {MOST_PARTS} parts")
        part = waiting.pop(0)
        yield part
        payload = part.get_payload()
        # A mail that is passed on inside another one is no answer to us.
        if isinstance(payload, list) and part.get_content_maintype() == "multipart":
            waiting = [one for one in payload if isinstance(one, Message)] + waiting


def text_of(part: Message) -> str:
    """A part's text, whatever its transfer encoding and charset claim to be."""
    payload = part.get_payload(decode=True)
    raw = payload if isinstance(payload, bytes) else str(part.get_payload()).encode("utf-8", "replace")
    charset = part.get_param("charset") or "utf-8"
    return decoded(raw, charset if isinstance(charset, str) else "utf-8")


def decoded(raw: bytes, charset: str) -> str:
    """Text of bytes; never fails."""
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return raw.decode("utf-16", "replace")
    name = charset.strip().lower()
    known = name if CHARSETS.fullmatch(name) else "utf-8"
    try:
        return raw.decode(known).removeprefix("\ufeff")
    except (UnicodeDecodeError, LookupError):
        return raw.decode("utf-8", "replace")


def header(value: object) -> str:
    """A header's words, decoded (RFC 2047) and bounded; broken ones as they stand."""
    text = str(value)[:LONGEST_HEADER]
    try:
        pieces = email.header.decode_header(text)
    except (email.errors.HeaderParseError, ValueError):
        return text
    words = [decoded(piece, charset or "utf-8") if isinstance(piece, bytes) else piece for piece, charset in pieces]
    return "".join(words)


def is_automatic(message: Message) -> bool:
    """Whether a machine answered (RFC 3834)."""
    word = str(message.get("Auto-Submitted", "no")).strip().lower()
    return not word.startswith("no")


def failed_recipients(part: Message) -> list[str]:
    """The addresses that a report says a mail did not reach (RFC 3464)."""
    payload = part.get_payload()
    blocks = [one for one in payload if isinstance(one, Message)] if isinstance(payload, list) else []
    found = []
    for block in blocks[:MOST_PARTS]:
        recipient = header(block.get("Final-Recipient", "") or block.get("Original-Recipient", ""))
        if header(block.get("Action", "")).strip().lower() == "failed" and "@" in recipient:
            found.append(recipient.rpartition(";")[2].strip().strip("<>").casefold())
    return found
