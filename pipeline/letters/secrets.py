"""What may not be repeated of a mail server's words: the password, in any form in which it was or could be told.

The server was given it in base64 (RFC 4954, RFC 4616); it may send back that, a piece of it, or what it made of it.
"""

from __future__ import annotations

import base64
import binascii
import re
from urllib.parse import quote

from pipeline.letters.settings import MailSettings

# A piece of this many letters of a secret is as good as the secret.
PIECE = 6
BASE64 = re.compile(r"[A-Za-z0-9+/_-]{8,}={0,2}")
UNSEEN = re.compile(r"[\s\x00-\x1f\x7f]+")


def holds_secret(said: str, settings: MailSettings) -> bool:
    """Whether a text holds the password, plainly or in another writing, whole or a piece of it."""
    if not settings.password:
        return False
    known = pieces_of(settings)
    texts = [said, *decoded(said)]
    return any(piece in UNSEEN.sub("", text).casefold() for text in texts for piece in known)


def pieces_of(settings: MailSettings) -> set[str]:
    """Every piece of every form of it, without blanks and in small letters."""
    password, both = settings.password, f"\0{settings.user}\0{settings.password}"
    plain = [password, quote(password), password.encode("unicode_escape").decode(), password.encode().hex()]
    plain += [password.encode().decode("latin-1"), base64_of(password)]
    # Of both together only the end is the password; three letters become four.
    hidden = base64_of(both)[(len(f"\0{settings.user}\0".encode()) // 3) * 4 :]
    found: set[str] = set()
    for form in (*plain, hidden):
        whole = UNSEEN.sub("", form).casefold().rstrip("=")
        found |= {whole[at : at + PIECE] for at in range(max(len(whole) - PIECE, 0) + 1)}
    return found - {""}


def decoded(said: str) -> list[str]:
    """What the words that may be base64 say, wherever one of them begins."""
    found = []
    for word in BASE64.findall(said):
        bare = word.rstrip("=").replace("-", "+").replace("_", "/")
        for skipped in range(4):
            rest = bare[skipped:]
            try:
                found.append(base64.b64decode(rest[: len(rest) // 4 * 4]).decode("utf-8", "replace"))
            except (binascii.Error, ValueError):
                continue
    return found


def base64_of(text: str) -> str:
    """Base64 of UTF-8 text."""
    return base64.b64encode(text.encode()).decode()
