"""Valid files spoiled by a seeded generator: bytes flipped, cut, doubled, moved, and pieces put in that break parsers.

The same seed gives the same file, so that a finding can be made again by its number.
"""

from __future__ import annotations

import random

# Pieces that have broken readers of text, YAML, CSV, XML, mail and calendars before.
PIECES: tuple[bytes, ...] = (
    b'\x00', b'\xff\xfe', b'\xef\xbb\xbf', b'\xed\xa0\x80', b'\r', b'\r\n\r\n', b'\t', b'\x1b[2J', b'\x85',
    b'\xe2\x80\xae', b'&a [*a, *a]', b'<<: *a', b"!!python/object/apply:os.system ['true']", b'--- ', b'...', b'? ',
    b'- - - - - - ', b'{', b'[', b'"', b"'", b'|\n', b'>\n', b'%YAML 9.9\n', b'1e999', b'-1e999', b'nan', b'inf',
    b'-0', b'0x10', b'1_000', b"9" * 400, b'18:00', b'NO', b'~', b'null', b'2027-02-30', b'0000-00-00',
    b'9999-12-31', b'24:00', b'\xf0\x9f\x8c\x95\xf0\x9f\x8c\x95\xf0\x9f\x8c\x95\xf0\x9f\x8c\x95\xf0\x9f\x8c\x95',
    b'../../../etc/passwd', b'CON', b"a" * 600, b'{{ 7 * 7 }}', b'{% for x in range(10**9) %}',
    b'<script>alert(1)</script>', b"<!DOCTYPE x [<!ENTITY a 'b'>]>", b'&lol;', b'<eor>', b'<EOH>',
    b'<CALL:99999999>', b'<CALL:-1>Q', b'<CALL:1:X>', b'<:>', b'<a>', b'BEGIN:VCALENDAR\r\n', b'BEGIN:VEVENT\r\n',
    b'END:VEVENT\r\n', b'DTSTART:99999999T999999Z\r\n', b'RRULE:FREQ=SECONDLY\r\n', b'UID:', b'ATTENDEE;', b';;;;',
    b'=3D', b'=?utf-8?b?AAAA?=', b'Content-Transfer-Encoding: base64\r\n',
    b'Content-Type: multipart/mixed; boundary="x"\r\n\r\n--x\r\n',
    b'Content-Type: text/calendar; charset="unknown-8bit"\r\n', b'Bcc: someone@else.example\r\n', b"\n" * 50,
    b" " * 300, b',', b';', b':', b'#',
)  # fmt: skip


def spoiled(seed: int, examples: tuple[bytes, ...]) -> bytes:
    """One spoiled file; the first few seeds are the plain extremes."""
    plain = (b"", b"\x00" * 100, b"\xff" * 100, b"[" * 3000, b"{" * 3000, b"a: " * 3000, b"\n" * 3000, b"-" * 3000)
    if seed < len(plain):
        return plain[seed]
    chance = random.Random(seed)
    raw = bytearray(chance.choice(examples))
    for _ in range(chance.choice((1, 1, 1, 2, 3, 8))):
        _spoil(chance, raw)
    return bytes(raw)


def _spoil(chance: random.Random, raw: bytearray) -> None:
    """One change at a random place."""
    at = chance.randrange(len(raw) + 1)
    end = min(len(raw), at + chance.choice((1, 2, 5, 20, 200)))
    match chance.randrange(7):
        case 0 if end > at:
            raw[at] ^= 1 << chance.randrange(8)
        case 1:
            del raw[at:end]
        case 2:
            raw[at:at] = raw[at:end] * chance.choice((1, 2, 30))
        case 3:
            raw[at:end] = chance.choice(PIECES)
        case 4:
            raw[at:at] = chance.choice(PIECES)
        case 5:
            del raw[at:]
        case _:
            lines = bytes(raw).split(b"\n")
            chance.shuffle(lines)
            raw[:] = b"\n".join(lines)
