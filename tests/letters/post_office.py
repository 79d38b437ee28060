"""A mail server on the loopback for the tests: TLS with a certificate of its own, a fault at any step on demand."""

# ruff: noqa: N802  (the names are those that aiosmtpd calls)

from __future__ import annotations

import asyncio
import contextlib
import os
import socket
import ssl
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
import trustme
from aiosmtpd.smtp import SMTP, AuthResult, Envelope
from aiosmtpd.smtp import Session as ServerSession

from pipeline.letters.settings import MailSettings

USER, PASSWORD = "ines@basalt-tor.example", "fünf Käfer"
CLOSE, SILENT, GARBAGE = "close", "silent", "garbage"
FORWARDS = "251 user not local; will forward to <new@post.example>"
# Faults of kind CLOSE, or a reply line such as "451 later".
BANNER, EHLO, STARTTLS, AUTH, MAIL, RCPT, DATA, MIDWAY, DOT, QUIT = (
    "banner", "EHLO", "STARTTLS", "AUTH", "MAIL", "RCPT", "DATA", "midway", "dot", "QUIT",
)  # fmt: skip


@dataclass
class PostOffice:
    """What the server does and what it took. `faults` are used up one at a time, in order, step by step."""

    port: int = 0
    authority: str = ""
    faults: list[tuple[str, str]] = field(default_factory=list)
    taken: list[tuple[str, list[str], bytes]] = field(default_factory=list)
    connections: int = 0
    offers_tls: bool = True
    transports: list[asyncio.BaseTransport] = field(default_factory=list)

    def fault_at(self, step: str) -> str | None:
        """The fault planned for a step, used up by this."""
        if self.faults and self.faults[0][0] == step:
            return self.faults.pop(0)[1]
        return None

    def settings(self, **changes: Any) -> MailSettings:
        """How a client reaches it."""
        values: dict[str, Any] = {
            "host": "localhost", "port": self.port, "security": "starttls", "user": USER, "password": PASSWORD,
            "authorities": self.authority,
        }  # fmt: skip
        return MailSettings(**(values | changes))

    def environment(self, **changes: str) -> dict[str, str]:
        """The same as a user sets it."""
        names = {
            "HOST": "localhost", "PORT": str(self.port), "USER": USER, "PASSWORD": PASSWORD, "SECURITY": "starttls",
            "AUTHORITIES": self.authority,
        }  # fmt: skip
        return {f"MUTUAL_MOON_MAIL_{name}": value for name, value in (names | changes).items()}


class Clerk(SMTP):
    """aiosmtpd's server, made to fail where the test wants it."""

    office: PostOffice

    def __init__(self, office: PostOffice, context: ssl.SSLContext | None, loop: asyncio.AbstractEventLoop) -> None:
        self.office = office
        super().__init__(
            self,
            hostname="localhost",
            ident="test",
            tls_context=context if office.offers_tls else None,
            require_starttls=False,
            auth_required=True,
            auth_require_tls=True,
            authenticator=self.check,
            loop=loop,
        )
        # Inside TLS from the start it knows of no encryption, and would take no login.
        self._auth_require_tls = context is not None

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        self.office.transports.append(transport)
        super().connection_made(transport)

    def check(self, server: SMTP, session: ServerSession, envelope: Envelope, mechanism: str, data: Any) -> AuthResult:
        """The one user there is."""
        good = (data.login, data.password) == (USER.encode(), PASSWORD.encode())
        return AuthResult(success=good, handled=good)

    async def broken(self, step: str) -> bool:
        """Fail at a step if that is planned; True where the step's own work must not be done any more."""
        fault = self.office.fault_at(step)
        if fault is None:
            return False
        if fault == CLOSE:
            self.transport.abort()
        elif fault == GARBAGE:
            await self.push("never heard of it")
        elif fault != SILENT:
            await self.push(fault)
        return True

    async def _handle_client(self) -> None:
        self.office.connections += 1
        if not self.session.ssl and await self.broken(BANNER):
            if self.transport and not self.transport.is_closing():
                await asyncio.sleep(2.0)
                self.transport.abort()
            return
        await super()._handle_client()

    async def smtp_EHLO(self, hostname: str) -> None:
        if not await self.broken(EHLO):
            await super().smtp_EHLO(hostname)

    async def smtp_STARTTLS(self, arg: str) -> None:
        if not await self.broken(STARTTLS):
            await super().smtp_STARTTLS(arg)

    async def smtp_AUTH(self, arg: str) -> None:
        if not await self.broken(AUTH):
            await super().smtp_AUTH(arg)

    async def smtp_MAIL(self, arg: str) -> None:
        if not await self.broken(MAIL):
            await super().smtp_MAIL(arg)

    async def smtp_RCPT(self, arg: str) -> None:
        if self.office.faults and self.office.faults[0] == (RCPT, FORWARDS):
            # A recipient who lives elsewhere is taken all the same (RFC 5321, section 3.4).
            self.envelope.rcpt_tos.append(arg.partition("<")[2].partition(">")[0])
        if not await self.broken(RCPT):
            await super().smtp_RCPT(arg)

    async def smtp_QUIT(self, arg: str) -> None:
        if not await self.broken(QUIT):
            await super().smtp_QUIT(arg)

    async def smtp_DATA(self, arg: str) -> None:
        if await self.broken(DATA):
            return
        if self.office.faults and self.office.faults[0][0] == MIDWAY:
            await self.push("354 go on")
            await self._reader.read(200)
            await self.broken(MIDWAY)
            return
        await super().smtp_DATA(arg)

    async def handle_DATA(self, server: SMTP, session: ServerSession, envelope: Envelope) -> Any:
        """The whole message is here, its dot included."""
        fault = self.office.fault_at(DOT)
        if fault is None or fault in (CLOSE, SILENT, GARBAGE):
            content = envelope.original_content or b""
            self.office.taken.append((envelope.mail_from or "", list(envelope.rcpt_tos), content))
        if fault == CLOSE:
            self.transport.abort()
        elif fault == SILENT:
            await asyncio.sleep(3)
            self.transport.abort()
        elif fault == GARBAGE:
            return "never heard of it"
        return fault if fault not in (None, CLOSE, SILENT) else "250 taken"


@contextlib.contextmanager
def running(folder: Path, implicit: bool = False, name: str = "localhost") -> Iterator[PostOffice]:
    """A server in a thread of its own, on a port that was free.

    The system's authorities, thirty milliseconds each time they are loaded, are none meanwhile.
    """
    office = PostOffice(authority=str(folder / "authority.pem"))
    authority = trustme.CA()
    authority.cert_pem.write_to_path(office.authority)
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    authority.issue_cert(name).configure_cert(context)
    loop = asyncio.new_event_loop()
    ready = threading.Event()
    listener = socket.create_server(("127.0.0.1", 0))
    # An answer of several lines goes out at once: else each waits 40 ms for word that the one before has come.
    listener.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    office.port = listener.getsockname()[1]

    async def serve() -> None:
        server = await loop.create_server(
            lambda: Clerk(office, None if implicit else context, loop), sock=listener, ssl=context if implicit else None
        )
        ready.set()
        try:
            await asyncio.Event().wait()
        finally:
            server.close()
            for transport in office.transports:
                transport.abort()  # type: ignore[attr-defined]
            await asyncio.sleep(0.02)

    def work() -> None:
        asyncio.set_event_loop(loop)
        task = loop.create_task(serve())
        office_stop.append(lambda: loop.call_soon_threadsafe(task.cancel))
        with contextlib.suppress(asyncio.CancelledError):
            loop.run_until_complete(task)
        rest = asyncio.all_tasks(loop)
        for one in rest:
            one.cancel()
        loop.run_until_complete(asyncio.gather(*rest, return_exceptions=True))
        loop.run_until_complete(asyncio.sleep(0))
        loop.close()

    office_stop: list[Any] = []
    thread = threading.Thread(target=work, daemon=True)
    thread.start()
    assert ready.wait(5)
    try:
        with pytest.MonkeyPatch.context() as patch:
            patch.setenv("SSL_CERT_FILE", os.devnull)
            yield office
    finally:
        office_stop[0]()
        thread.join(5)
