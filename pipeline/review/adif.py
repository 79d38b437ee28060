"""Records of an ADI file, each with its line, good ones kept beside broken ones. From text by our own small reader.

Form: ADIF specification 3.1.x (adif.org), section ADI: `<NAME:LENGTH[:TYPE]>data`, header up to `<EOH>`, record up to
`<EOR>`; names in any case, what stands between fields is ignored. A length that does not fit is told and mended.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from dataclasses import dataclass, field

from pipeline.inputs.odd_characters import LINE_BREAK

TAG = re.compile(r"<[ \t]*([A-Za-z][A-Za-z0-9_]{0,49})[ \t]*(?::[ \t]*([0-9]{0,12})[ \t]*(?::[^<>\r\n]{0,50})?)?>")
# Fields that hold free text, where a tag may be quoted.
FREE_TEXT = ("COMMENT", "NOTES", "QSLMSG", "ADDRESS", "NAME", "QTH", "RIG", "MY_RIG", "APP_", "USERDEF", "PROGRAM")
RECORD_ENDS = re.compile(r"<eor>\s*(<[A-Za-z]\w{0,49}:\d|$)", re.IGNORECASE)
FIELD_END = re.compile(r"[<\r\n]")
LONGEST_FIELD = 5000
MOST_RECORDS = 20_000
MOST_ODDITIES = 5


@dataclass
class RawRecord:
    """One record as text: field names in capitals; `oddities` are pairs of what is wrong and what would be right."""

    line: int
    fields: dict[str, str] = field(default_factory=dict)
    oddities: list[tuple[int, str, str]] = field(default_factory=list)

    def note(self, line: int, what: str, advice: str) -> None:
        """Keeps an oddity, up to a few a record: a file of garbage needs no thousand lines."""
        if len(self.oddities) < MOST_ODDITIES:
            self.oddities.append((line, what, advice))


@dataclass(frozen=True)
class Lines:
    """Where each line of a text begins, to tell the line of any place in it."""

    breaks: tuple[int, ...]

    @classmethod
    def of(cls, text: str) -> Lines:
        """The line breaks of a text: LF, CR LF or CR."""
        return cls(tuple(match.end() for match in LINE_BREAK.finditer(text)))

    def at(self, place: int) -> int:
        """Line of a place, from 1."""
        return bisect_right(self.breaks, place) + 1


def read_adi(text: str) -> list[RawRecord]:
    """All records of an ADI text, in its order; records beyond the 20,000th are left out with a note on the last."""
    return _Reader(text).read()


class _Reader:
    """Walks the tags of a text once; every step moves forward, so that no text takes long."""

    def __init__(self, text: str) -> None:
        self.text, self.lines, self.ascii = text, Lines.of(text), text.isascii()
        self.records: list[RawRecord] = []
        self.record: RawRecord | None = None

    def read(self) -> list[RawRecord]:
        place = 0
        while len(self.records) < MOST_RECORDS:
            tag = TAG.search(self.text, place)
            if tag is None:
                break
            place = self.take(tag)
        else:
            if TAG.search(self.text, place):
                line = self.lines.at(place)
                advice = "split the file; what follows is left out"
                self.records[-1].note(line, f"the log has more than {MOST_RECORDS:,} records", advice)
        if self.record is not None and self.record.fields:
            self.record.note(self.record.line, "the last record has no <EOR>", "the file may have been cut short")
            self.records.append(self.record)
        return self.records

    def take(self, tag: re.Match[str]) -> int:
        """One tag and its data; returns where to go on."""
        name, length = tag[1].upper(), tag[2]
        line = self.lines.at(tag.start())
        if name == "EOH":
            # Two logs joined have a header in the middle as well: what was gathered since the last record is header.
            self.record = None
            return tag.end()
        if name == "EOR":
            if self.record is not None and self.record.fields:
                self.records.append(self.record)
            self.record = None
            return tag.end()
        record = self.record = self.record or RawRecord(line)
        value, end = self.value(name, length, tag.end(), line, record)
        if (
            name == "CALL"
            and "CALL" in record.fields
            and ("QSO_DATE" in record.fields or record.fields["CALL"] != value)
        ):
            record.note(record.line, "this record has no <EOR>", f"it is taken to end before line {line}")
            self.records.append(record)
            record = self.record = RawRecord(line)
        if name in record.fields and record.fields[name] != value:
            record.note(line, f"the field {name} stands twice in one record", f"'{record.fields[name][:30]}' is taken")
        record.fields.setdefault(name, value)
        return end

    def value(self, name: str, length: str | None, start: int, line: int, record: RawRecord) -> tuple[str, int]:
        """The data of a field and where it ends: by its length where that fits, else up to the next tag."""
        declared = int(length) if length else -1
        if 0 <= declared <= LONGEST_FIELD:
            if self.fits(name, start, start + declared):
                return self.text[start : start + declared].strip(), start + declared
            if not self.ascii:
                # The length may count bytes of UTF-8 in place of characters.
                raw = self.text[start : start + declared].encode("utf-8")[:declared]
                end = start + len(raw.decode("utf-8", "ignore"))
                if self.fits(name, start, end):
                    return self.text[start:end].strip(), end
        # Free text may hold angle brackets and line breaks; a call or a figure ends at either.
        stop = (TAG if name.startswith(FREE_TEXT) else FIELD_END).search(self.text, start)
        end = min(stop.start() if stop else len(self.text), start + LONGEST_FIELD)
        value = self.text[start:end].strip()
        said = f"says {declared}" if declared >= 0 else "is missing"
        record.note(
            line, f"the length of {name} {said}, its text has {len(value)} characters", f"'{value[:30]}' is taken"
        )
        return value, end

    def fits(self, name: str, start: int, end: int) -> bool:
        """Whether data from start to end is followed by a gap, a tag or the end, and swallows no tag."""
        if end > len(self.text):
            return False
        if end < len(self.text) and not (self.text[end] == "<" or self.text[end].isspace()):
            return False
        data = self.text[start:end]
        if "<" not in data:
            return True
        if name.startswith(FREE_TEXT):
            return RECORD_ENDS.search(data) is None
        return TAG.search(data) is None
