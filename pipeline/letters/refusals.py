"""What a mail server's refusal is about: who sends, who receives, a full mailbox, the mail itself, the way there.

By its enhanced status code where it gives one (RFC 3463; RFC 7505 for 5.1.10), else by the command it answered and its
reply code (RFC 5321, sections 4.2.2 and 4.3.2; RFC 1870 for 552 to a declared size). RFC texts from memory.
"""

from __future__ import annotations

import re
from enum import Enum

ENHANCED = re.compile(r"\b[245]\.(\d{1,3})\.(\d{1,3})\b")
# The step that a reply answers.
MAIL, RCPT, DATA, CONTENT = "MAIL", "RCPT", "DATA", "content"


class Concern(Enum):
    """What is to be put right."""

    SENDER = "sender"
    ADDRESS = "address"
    FULL = "full"
    SIZE = "size"
    MAIL = "mail"
    PERMISSION = "permission"
    ACCESS = "access"
    SERVER = "server"
    UNKNOWN = "unknown"

    @property
    def holds_for_all(self) -> bool:
        """Whether the next mail would fare the same."""
        return self in (Concern.SENDER, Concern.ACCESS, Concern.SERVER)


# The code's subject and detail; a subject alone where all its details mean the same.
BY_DETAIL = {
    (1, 7): Concern.SENDER,
    (1, 8): Concern.SENDER,
    (2, 2): Concern.FULL,
    (2, 3): Concern.SIZE,
    (3, 4): Concern.SIZE,
    (4, 4): Concern.ADDRESS,
}
BY_SUBJECT = {1: Concern.ADDRESS, 2: Concern.ADDRESS, 6: Concern.MAIL}
BY_STEP = {MAIL: Concern.SENDER, RCPT: Concern.ADDRESS, CONTENT: Concern.MAIL}
PERMISSION = 7
# The system, the network, the protocol: nobody's address.
OF_THE_SERVER = (3, 4, 5)
BY_REPLY = {(552, MAIL): Concern.SIZE, (552, RCPT): Concern.FULL, (552, CONTENT): Concern.SIZE}


def concern_of(step: str, code: int, said: str, sender: str, to: str) -> Concern:
    """What a refusal is about; `said` are the server's words, `sender` and `to` the envelope's addresses."""
    words = said.casefold()
    if step == RCPT and f"<{sender.casefold()}>" in words and f"<{to.casefold()}>" not in words:
        # Many servers look at the sender only when they know the recipient, and then name whom they mean.
        return Concern.SENDER
    found = ENHANCED.match(said)
    if found:
        subject, detail = int(found[1]), int(found[2])
        known = BY_DETAIL.get((subject, detail)) or BY_SUBJECT.get(subject)
        if known:
            return known
        if subject == PERMISSION and step == RCPT:
            return Concern.PERMISSION
        if subject in OF_THE_SERVER:
            return Concern.SERVER if step == MAIL else Concern.UNKNOWN
    if (code, step) in BY_REPLY:
        return BY_REPLY[code, step]
    if code < 500:
        # What is put off may pass later as it is; at the first step nothing passes now.
        return Concern.SERVER if step == MAIL else Concern.UNKNOWN
    return BY_STEP.get(step, Concern.UNKNOWN)
