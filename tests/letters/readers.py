"""What the tests of this room share: mails taken apart, the words of a page, and calendars as plain facts."""

from __future__ import annotations

import email
import email.policy
import re
from email.message import EmailMessage
from html.parser import HTMLParser

# Any defect raises: RFC 5322 and 2045 as the standard library knows them.
STRICT = email.policy.strict.clone(max_line_length=None)


def opened(raw: bytes) -> EmailMessage:
    """The mail, every part decoded once, so that a defect in any of them shows."""
    message = email.message_from_bytes(raw, policy=STRICT)
    assert isinstance(message, EmailMessage)
    for part in message.walk():
        assert not part.defects
        for value in part.values():
            assert not value.defects
        if not part.is_multipart():
            part.get_content()
    return message


def body(message: EmailMessage, kind: str) -> str:
    """The text or the HTML."""
    part = message.get_body((kind,))
    assert part is not None
    return str(part.get_content())


def calendars(message: EmailMessage, attached: bool) -> list[EmailMessage]:
    """The calendar parts: the attached files, or the one among the alternatives."""
    return [
        part
        for part in message.walk()
        if part.get_content_type() == "text/calendar" and (part.get_filename() is not None) == attached
    ]


def unfolded(raw: bytes) -> list[str]:
    """Lines of a calendar after RFC 5545, section 3.1."""
    return raw.replace(b"\r\n ", b"").decode().split("\r\n")


class _Words(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.tags: list[str] = []
        self.hidden = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.hidden += tag in ("style", "title")

    def handle_endtag(self, tag: str) -> None:
        self.hidden -= tag in ("style", "title")

    def handle_data(self, data: str) -> None:
        if not self.hidden:
            self.found.append(data)


def words_of_html(html: str) -> list[str]:
    """The words that a reader sees, in order."""
    reader = _Words()
    reader.feed(html)
    return words(" ".join(reader.found))


def tags_of_html(html: str) -> list[str]:
    """Every start tag."""
    reader = _Words()
    reader.feed(html)
    return reader.tags


def words(text: str) -> list[str]:
    """Letters and figures only, in small letters: what is left when layout is taken away."""
    return re.findall(r"[\w.,:@+−°]+", text.casefold())
