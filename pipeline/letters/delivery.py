"""One session with the mail server: what it said at each step, and what that means for the message.

RFC 5321 (steps and reply codes), RFC 3207 (STARTTLS), RFC 8314 (TLS from the start), RFC 4954 and RFC 4616 (AUTH).
A message counts as handed over with the answer to its final dot, and only with that; what breaks after the dot is
unclear, what breaks before it has not arrived.
"""

from __future__ import annotations

import contextlib
import re
import select
import smtplib
import ssl
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, cast

from pipeline.inputs.bounds import MOST_LINES_OF_AN_ANSWER
from pipeline.inputs.yaml_tree import printable
from pipeline.letters.refusals import CONTENT, DATA, MAIL, RCPT, Concern, concern_of
from pipeline.letters.secrets import base64_of, holds_secret
from pipeline.letters.settings import PREFIX, MailSettings, set_line

CONNECT_S, STEP_S = 20.0, 60.0
# RFC 5321, section 4.5.3.2.6 wants ten minutes; two are long for a page and its attachments.
AFTER_DOT_S = 120.0
DELIVERED, REFUSED, LATER, UNCLEAR = "delivered", "refused", "later", "unclear"
# An address literal: the name of the user's computer is nobody's business.
OWN_NAME = "[127.0.0.1]"


class NoSession(RuntimeError):
    """The server could not be used at all; the text is one sentence for the user. `lasting` means: no use to retry."""

    def __init__(self, sentence: str, lasting: bool) -> None:
        super().__init__(sentence)
        self.lasting = lasting


@dataclass(frozen=True)
class Outcome:
    """What became of one message: one of the four words, the server's own, and what a refusal is about."""

    result: str
    words: str = ""
    concern: Concern = Concern.UNKNOWN


def reply_words(code: int, said: bytes | str) -> str:
    """`550 no such user`, in one printable line."""
    return printable(f"{code} {text_of(said)}" if code > 0 else "no proper answer", 200)


def text_of(said: bytes | str) -> str:
    """A server's words as text."""
    return said.decode("utf-8", "replace") if isinstance(said, bytes) else said


class Endless(RuntimeError):
    """A server's answer that does not end; no OSError, which smtplib would take for a closed connection."""


class _Answer:
    """What a server sends, read up to a bound that each answer has anew."""

    def __init__(self, stream: Any) -> None:
        self.stream, self.lines = stream, 0

    def readline(self, size: int) -> bytes:
        self.lines += 1
        if self.lines > MOST_LINES_OF_AN_ANSWER:
            raise Endless(f"answers with more than {MOST_LINES_OF_AN_ANSWER} lines")
        return cast(bytes, self.stream.readline(size))

    def close(self) -> None:
        self.stream.close()


class _Bounded(smtplib.SMTP):
    """An answer may have several lines (RFC 5321, section 4.2.1); one without an end would fill the memory."""

    def getreply(self) -> tuple[int, bytes]:
        if self.file is None and self.sock is not None:
            self.file = _Answer(self.sock.makefile("rb"))
        if self.file is not None:
            self.file.lines = 0
        return super().getreply()


class _BoundedTls(_Bounded, smtplib.SMTP_SSL):
    """The same, encrypted from the start."""


class Session:
    """A connection that is encrypted and logged in, or was never made."""

    def __init__(
        self,
        settings: MailSettings,
        connect_s: float = CONNECT_S,
        step_s: float = STEP_S,
        after_dot_s: float = AFTER_DOT_S,
    ) -> None:
        """Connect; NoSession where that fails."""
        self.settings, self.connect_s, self.step_s, self.after_dot_s = settings, connect_s, step_s, after_dot_s
        self.smtp: smtplib.SMTP | None = None
        step = "the connection"
        try:
            smtp = self.smtp = self.connected(settings.context())
            step = "EHLO"
            self.greet(smtp)
            if settings.security == "starttls":
                step = "STARTTLS"
                self.encrypt(smtp)
                self.greet(smtp)
            step = "the login"
            self.log_in(smtp)
        except NoSession:
            self.close()
            raise
        except ssl.SSLCertVerificationError as error:
            self.close()
            reason = printable(error.verify_message or "it cannot be checked")
            raise NoSession(
                f"{self.place} has no good certificate ({reason}); nothing was sent. Look at the name in {PREFIX}HOST; "
                f"for a server of your own name its file of certificates:\n  "
                + set_line(f"{PREFIX}AUTHORITIES", "certificates.pem"),
                True,
            ) from None
        except smtplib.SMTPConnectError as error:
            self.close()
            words = self.heard(error.smtp_code, error.smtp_error)
            raise NoSession(f"{self.place} does not take mail now ({words}).", error.smtp_code >= 500) from None
        except (OSError, UnicodeError, Endless) as error:
            self.close()
            sentence = f"{self.place} {self.trouble(error)} (at {step})."
            raise NoSession(sentence, isinstance(error, UnicodeError)) from None

    @property
    def place(self) -> str:
        """Host and port."""
        return f"the mail server {printable(self.settings.host)}, port {self.settings.port},"

    def connected(self, context: ssl.SSLContext) -> smtplib.SMTP:
        """The connection, its banner read."""
        host, port = self.settings.host, self.settings.port
        smtp: smtplib.SMTP
        if self.settings.security == "tls":
            smtp = _BoundedTls(host, port, OWN_NAME, timeout=self.connect_s, context=context)
        else:
            smtp = _Bounded(host, port, OWN_NAME, timeout=self.connect_s)
        assert smtp.sock is not None
        smtp.sock.settimeout(self.step_s)
        return smtp

    def greet(self, smtp: smtplib.SMTP) -> None:
        """EHLO; without it there is no encryption and no login."""
        code, said = smtp.ehlo()
        if code != 250:
            raise NoSession(f"{self.place} refuses the greeting ({self.heard(code, said)}).", code >= 500)

    def encrypt(self, smtp: smtplib.SMTP) -> None:
        """STARTTLS, or nothing at all."""
        if not smtp.has_extn("starttls"):
            raise NoSession(f"{self.place} offers no encryption (STARTTLS); nothing was sent.", True)
        said: bytes | str
        try:
            code, said = smtp.starttls(context=self.settings.context())
        except smtplib.SMTPResponseException as error:
            code, said = error.smtp_code, error.smtp_error
        if code != 220:
            raise NoSession(f"{self.place} refuses encryption ({self.heard(code, said)}).", code >= 500)

    def log_in(self, smtp: smtplib.SMTP) -> None:
        """AUTH by PLAIN or LOGIN, inside the encryption; the password may hold any letter (RFC 4616: UTF-8)."""
        user, password = self.settings.user, self.settings.password
        if not user:
            return
        offered = smtp.esmtp_features.get("auth", "").upper().split()
        if "PLAIN" in offered:
            code, said = smtp.docmd("AUTH", "PLAIN " + base64_of(f"\0{user}\0{password}"))
        elif "LOGIN" in offered:
            code, said = smtp.docmd("AUTH", "LOGIN " + base64_of(user))
            if code == 334:
                code, said = smtp.docmd(base64_of(password))
        else:
            raise NoSession(f"{self.place} offers no login with a password.", True)
        if code != 235:
            words = self.heard(code, said)
            raise NoSession(f"{self.place} refuses the login of {printable(user)} ({words}).", code >= 500)

    def heard(self, code: int, said: bytes | str) -> str:
        """What the server said; its code alone, should it repeat the password that it was told."""
        return reply_words(code, "" if holds_secret(text_of(said), self.settings) else said)

    def trouble(self, error: Exception) -> str:
        """What a server did whose connection broke."""
        # smtplib tells a time-out as a closed connection; what it caught stands behind.
        if isinstance(error, TimeoutError) or isinstance(error.__context__, TimeoutError):
            return "does not answer in time"
        if isinstance(error, Endless):
            return str(error)
        if isinstance(error, smtplib.SMTPResponseException):
            return f"is not understood: {self.heard(error.smtp_code, error.smtp_error)}"
        if isinstance(error, smtplib.SMTPServerDisconnected):
            return "closed the connection"
        if isinstance(error, ssl.SSLError):
            return "does not agree on encryption; is it the right port and security"
        return f"cannot be reached: {printable((getattr(error, 'strerror', None) or type(error).__name__).lower())}"

    def deliver(self, sender: str, to: str, message: bytes, before_dot: Callable[[], None] = lambda: None) -> Outcome:
        """Hand one message over. After anything but `delivered` and `refused` the session is of no more use."""
        smtp = self.smtp
        if smtp is None:
            return Outcome(LATER, "the connection is closed")
        dotted = False
        try:
            outcome = self.envelope(smtp, sender, to, message) or self.hand_in(smtp, sender, to, message)
            if outcome is None:
                before_dot()
                assert smtp.sock is not None
                smtp.sock.settimeout(self.after_dot_s)
                dotted = True
                smtp.send(b".\r\n")
                code, said = smtp.getreply()
                smtp.sock.settimeout(self.step_s)
                outcome = self.judged(by_code(code, said, 250, dotted=True), CONTENT, (code, said), (sender, to))
        except (OSError, Endless) as error:
            self.close()
            words = f"the mail server {self.trouble(error)} {'after' if dotted else 'before'} the end of the mail"
            return Outcome(UNCLEAR if dotted else LATER, words)
        except BaseException:
            self.close()
            raise
        if outcome.result == REFUSED and self.alive:
            self.reset(smtp)
        elif outcome.result != DELIVERED:
            self.close()
        return outcome

    def judged(self, outcome: Outcome, step: str, reply: tuple[int, bytes], envelope: tuple[str, str]) -> Outcome:
        """The outcome with words that may be shown and kept, and with what a refusal is about."""
        code, said = reply
        return replace(outcome, words=self.heard(code, said), concern=concern_of(step, code, text_of(said), *envelope))

    def envelope(self, smtp: smtplib.SMTP, sender: str, to: str, message: bytes) -> Outcome | None:
        """MAIL, RCPT and DATA; None where the server wants the message now."""
        options = []
        if smtp.has_extn("size"):
            options.append(f"SIZE={len(message)}")
        if not message.isascii():
            if not smtp.has_extn("8bitmime"):
                return Outcome(REFUSED, "the server takes letters of plain ASCII only (no 8BITMIME)", Concern.MAIL)
            options.append("BODY=8BITMIME")
        for step, command, wanted in (
            (MAIL, " ".join([f"MAIL FROM:<{sender}>", *options]), (250,)),
            (RCPT, f"RCPT TO:<{to}>", (250, 251)),
            (DATA, "DATA", (354,)),
        ):
            code, said = smtp.docmd(command)
            if code == 530:
                self.close()
                raise NoSession(f"{self.place} wants a login first ({self.heard(code, said)}).", True)
            if code not in wanted:
                return self.judged(by_code(code, said, wanted[0], dotted=False), step, (code, said), (sender, to))
        return None

    def hand_in(self, smtp: smtplib.SMTP, sender: str, to: str, message: bytes) -> Outcome | None:
        """All of the message but its final dot; None where the server listens still."""
        body = re.sub(rb"(?m)^\.", b"..", message)
        smtp.send(body if body.endswith(b"\r\n") else body + b"\r\n")
        assert smtp.sock is not None
        # A server that speaks now has refused or gone, and without the dot it has taken nothing.
        if not select.select([smtp.sock], [], [], 0)[0]:
            return None
        code, said = smtp.getreply()
        self.close()
        outcome = self.judged(by_code(code, said, -1, dotted=False), CONTENT, (code, said), (sender, to))
        return outcome if outcome.result != DELIVERED else Outcome(LATER, outcome.words)

    def reset(self, smtp: smtplib.SMTP) -> None:
        """Make ready for the next message after a refusal."""
        try:
            code, _ = smtp.docmd("RSET")
        except (OSError, Endless):
            code = -1
        if code != 250:
            self.close()

    @property
    def alive(self) -> bool:
        """Whether another message may go this way."""
        return self.smtp is not None and self.smtp.sock is not None

    def quit(self) -> None:
        """Say goodbye; what goes wrong here matters to nobody."""
        if self.smtp is not None:
            with contextlib.suppress(OSError, Endless):
                if self.smtp.sock is not None:
                    self.smtp.sock.settimeout(min(self.step_s, 5.0))
                    self.smtp.docmd("QUIT")
        self.close()

    def close(self) -> None:
        """Drop the connection."""
        if self.smtp is not None:
            with contextlib.suppress(OSError, Endless):
                self.smtp.close()
        self.smtp = None


def by_code(code: int, said: bytes, wanted: int, dotted: bool) -> Outcome:
    """What a reply code means (RFC 5321, section 4.2.1); an answer that is none is as no answer."""
    words = reply_words(code, said)
    if code == wanted:
        return Outcome(DELIVERED, words)
    if 500 <= code < 600:
        return Outcome(REFUSED, words)
    if 400 <= code < 500:
        return Outcome(LATER, words)
    return Outcome(UNCLEAR if dotted else LATER, words)
