"""One mail from finished parts: mixed[alternative[plain, HTML, calendar], attachments], the same bytes every time.

RFC 5322 and 2045 by the standard library, RFC 6047 for the calendar part: its `method` equals the METHOD inside, it is
the last of the alternatives. A mail program shows buttons for one event of one calendar part, so the first slot that
waits for an answer stands there, and every slot is attached as a file of its own besides. A file has no Date, which
says when a mail was made ready to leave (RFC 5322, section 3.6.1): it is set at sending, by `send` or by whoever sends
it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import SMTP

from pipeline.wording.words import one_line


@dataclass(frozen=True)
class CalendarPart:
    """One calendar object and the name of its file."""

    name: str
    method: str
    content: bytes


@dataclass(frozen=True)
class Person:
    """A name and a mail address."""

    name: str
    email: str

    @property
    def address(self) -> Address:
        """As a header takes it."""
        return Address(display_name=one_line(self.name), addr_spec=one_line(self.email))


@dataclass(frozen=True)
class Parts:
    """All that one mail is made of. `calendars`: the first is shown with buttons."""

    sender: Person
    recipient: Person
    subject: str
    text: str
    html: str
    calendars: Sequence[CalendarPart]
    files: Sequence[tuple[str, str, bytes]]


def mail_bytes(parts: Parts) -> bytes:
    """The whole mail with CRLF; pure 7-bit, so that every server on the way leaves it alone."""
    message = EmailMessage(policy=SMTP.clone(cte_type="7bit"))
    message["From"] = parts.sender.address
    message["To"] = parts.recipient.address
    message["Subject"] = one_line(parts.subject)
    message.set_content(parts.text, charset="utf-8", cte="quoted-printable")
    message.add_alternative(parts.html, subtype="html", charset="utf-8", cte="quoted-printable")
    if parts.calendars:
        first = parts.calendars[0]
        message.add_alternative(
            first.content.decode(), subtype="calendar", charset="utf-8", cte="base64", params={"method": first.method}
        )
    for name, kind, content in parts.files:
        maintype, subtype = kind.split("/")
        message.add_attachment(content, maintype=maintype, subtype=subtype, filename=name)
    for part in parts.calendars:
        message.add_attachment(
            part.content.decode(),
            subtype="calendar",
            charset="utf-8",
            cte="base64",
            filename=part.name,
            params={"method": part.method},
        )
    identity = _identity(parts)
    message["Message-ID"] = f"<{identity}@{one_line(parts.sender.email).rpartition('@')[2]}>"
    for number, holder in enumerate(piece for piece in message.walk() if piece.is_multipart()):
        holder.set_boundary(f"=_{identity}_{number}")
    return message.as_bytes()


def _identity(parts: Parts) -> str:
    """A name of this very mail, from its content: another content is another mail."""
    digest = hashlib.sha256()
    contents = [calendar.content for calendar in parts.calendars] + [content for _, _, content in parts.files]
    head = [parts.sender.email, parts.recipient.email, parts.subject, parts.text, parts.html]
    for piece in [*(text.encode() for text in head), *contents]:
        digest.update(hashlib.sha256(piece).digest())
    return digest.hexdigest()[:32]


def digest_without_date(mail: bytes) -> str:
    """SHA-256 of a mail with its Date header left out: what stays the same when it is sent."""
    head, blank, body = mail.partition(b"\r\n\r\n")
    kept = []
    inside_date = False
    for line in head.split(b"\r\n"):
        # A folded header goes on in lines that begin with a space.
        inside_date = line[:5].lower() == b"date:" or (inside_date and line[:1] in (b" ", b"\t"))
        if not inside_date:
            kept.append(line)
    return hashlib.sha256(b"\r\n".join(kept) + blank + body).hexdigest()
