"""Records of an ADX file (the XML form of ADIF 3.1.x, adif.org), each with its line, good ones kept beside broken.

Read by expat; document types and entities are refused before and while parsing, so that no file can swell or fetch.
"""

from __future__ import annotations

import re
from xml.parsers import expat

from pipeline.review.adif import LONGEST_FIELD, MOST_RECORDS, Lines, RawRecord

DECLARATION = re.compile(r"^\s*<\?xml[^>]{0,200}\?>")
FORBIDDEN = re.compile(r"<!\s*(DOCTYPE|ENTITY)", re.IGNORECASE)
RECORD_START = re.compile(r"<RECORD\b[^<>]{0,200}>", re.IGNORECASE)
RECORD_END = re.compile(r"</RECORD\s*>", re.IGNORECASE)


class RefusedXml(ValueError):
    """XML that defines a document type or entities: a log needs neither."""


def read_adx(text: str) -> list[RawRecord]:
    """All records of an ADX text, in its order.

    Raises RefusedXml for document types and entities, ExpatError where it is broken before any record.
    """
    if FORBIDDEN.search(text):
        raise RefusedXml("it defines a document type or entities, which no log needs")
    lines = Lines.of(text)
    # We have decoded the text ourselves: its own word on the encoding must not bring in another reading of it.
    declaration = DECLARATION.match(text)
    start = declaration.end() if declaration else 0
    records, failed = _parse(text[start:], lines.at(start))
    if failed is None:
        return _at_most(records)
    if RECORD_START.search(text) is None:
        error = expat.ExpatError("no record")
        error.lineno = failed
        raise error
    return _record_by_record(text, lines)


def _record_by_record(text: str, lines: Lines) -> list[RawRecord]:
    """Each record parsed alone, so that a broken one spoils no other."""
    starts = [match.start() for match in RECORD_START.finditer(text)][: MOST_RECORDS + 1]
    found: list[RawRecord] = []
    for start, following in zip(starts, [*starts[1:], len(text)], strict=True):
        end = RECORD_END.search(text, start, following)
        piece = text[start : end.end() if end else following]
        line = lines.at(start)
        records, failed = _parse(piece, line)
        if not records:
            records = [RawRecord(line)]
        if failed is not None:
            advice = "what could be read before that is taken" if records[0].fields else "nothing of it could be read"
            records[0].note(failed, "the XML of this record is broken", advice)
        found += records
    return _at_most(found)


def _at_most(records: list[RawRecord]) -> list[RawRecord]:
    """As many as are taken, with a note on the last where there are more."""
    if len(records) > MOST_RECORDS:
        what = f"the log has more than {MOST_RECORDS:,} records"
        records[MOST_RECORDS - 1].note(records[MOST_RECORDS].line, what, "split the file; what follows is left out")
    return records[:MOST_RECORDS]


def _parse(text: str, first_line: int) -> tuple[list[RawRecord], int | None]:
    """The records of a piece of XML and, where it is broken, the line of the break."""
    gather = _Gather(first_line)
    try:
        gather.parser.Parse(text.encode("utf-8"), True)
    except expat.ExpatError as error:
        if gather.record is not None:
            gather.records.append(gather.record)
        return gather.records, first_line + error.lineno - 1
    return gather.records, None


class _Gather:
    """Handlers of one parse: fields are the elements one level below RECORD."""

    def __init__(self, first_line: int) -> None:
        self.records: list[RawRecord] = []
        self.record: RawRecord | None = None
        self.name, self.text, self.depth = "", [""], 0
        self.first_line = first_line
        self.parser = expat.ParserCreate(encoding="utf-8")
        self.parser.StartElementHandler = self.start
        self.parser.EndElementHandler = self.end
        self.parser.CharacterDataHandler = self.characters
        self.parser.StartDoctypeDeclHandler = self.refuse
        self.parser.EntityDeclHandler = self.refuse

    def refuse(self, *_: object) -> None:
        raise RefusedXml("it defines a document type or entities, which no log needs")

    def line(self) -> int:
        return self.first_line + self.parser.CurrentLineNumber - 1

    def start(self, name: str, attributes: dict[str, str]) -> None:
        upper = name.upper()
        if self.record is None:
            if upper == "RECORD":
                self.record, self.depth = RawRecord(self.line()), 0
            return
        self.depth += 1
        if self.depth == 1:
            self.name, self.text = upper, []

    def characters(self, data: str) -> None:
        if self.record is not None and self.depth == 1:
            self.text.append(data)

    def end(self, name: str) -> None:
        if self.record is None:
            return
        if self.depth == 0:
            self.records.append(self.record)
            self.record = None
            return
        if self.depth == 1:
            value = "".join(self.text).strip()[:LONGEST_FIELD]
            kept = self.record.fields.setdefault(self.name, value)
            if kept != value:
                what = f"the field {self.name} stands twice in one record"
                self.record.note(self.line(), what, f"'{kept[:30]}' is taken")
        self.depth -= 1
