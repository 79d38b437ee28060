"""How to reach the mail server: environment variables, and the password from there or from the system's keyring.

Nothing of it is ever written to a folder, printed or put into a message.
"""

from __future__ import annotations

import os
import ssl
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

PREFIX = "MUTUAL_MOON_MAIL_"
# Of nobody: what stands in a line to type.
SERVER, USER = "mail.basalt-tor.example", "you@basalt-tor.example"
KEYRING_SERVICE = "mutual-moon"
# Submission ports of RFC 6409 and RFC 8314.
PORTS = {"starttls": 587, "tls": 465}


class MailSettingsFault(ValueError):
    """What is missing or wrong in the settings; the text is one sentence for the user."""


@dataclass(frozen=True)
class MailSettings:
    """Where mail is handed in. The password shows in no print of this."""

    host: str
    port: int
    security: str
    user: str = ""
    password: str = field(default="", repr=False)
    authorities: str = ""

    def context(self) -> ssl.SSLContext:
        """Certificates checked against the system's authorities, or those of a file of one's own."""
        context = ssl.create_default_context()
        context.minimum_version = ssl.TLSVersion.TLSv1_2
        if self.authorities:
            try:
                context.load_verify_locations(self.authorities)
            except (OSError, ssl.SSLError):
                name = f"{PREFIX}AUTHORITIES"
                raise MailSettingsFault(f"{name}: the file it names holds no certificates that can be read.") from None
        return context


def mail_settings(environment: Mapping[str, str] | None = None) -> MailSettings:
    """The settings as the environment gives them; MailSettingsFault where they do not suffice."""
    given = os.environ if environment is None else environment
    host, user = (given.get(PREFIX + name, "").strip() for name in ("HOST", "USER"))
    if not host:
        raise MailSettingsFault(
            f"no mail server is set; set {PREFIX}HOST (and {PREFIX}USER, {PREFIX}PASSWORD) in the environment, for "
            f"instance:\n  {set_line(f'{PREFIX}HOST', SERVER)}\n  {set_line(f'{PREFIX}USER', USER)}\n"
            "or send letter.eml from your mail program, and once it is sent, run: send --by-hand CALL --way mail"
        )
    if any(sign.isspace() or not sign.isprintable() for sign in host + user):
        raise MailSettingsFault(f"{PREFIX}HOST and {PREFIX}USER are meant to be single words without spaces.")
    security = given.get(PREFIX + "SECURITY", "").strip().casefold()
    written = given.get(PREFIX + "PORT", "").strip()
    if security not in ("", *PORTS):
        raise MailSettingsFault(f"{PREFIX}SECURITY is meant to be starttls or tls; mail never leaves unencrypted.")
    security = security or ("tls" if written == str(PORTS["tls"]) else "starttls")
    if written and not (written.isascii() and written.isdigit() and 0 < int(written[:6]) < 65536):
        raise MailSettingsFault(f"{PREFIX}PORT is meant to be a number from 1 to 65535, usually 587 or 465.")
    port = int(written) if written else PORTS[security]
    authorities = given.get(PREFIX + "AUTHORITIES", "").strip()
    if authorities and not Path(authorities).is_file():
        raise MailSettingsFault(f"{PREFIX}AUTHORITIES names a file that is not there.")
    password = (given.get(PREFIX + "PASSWORD", "") or from_keyring(user)) if user else ""
    if user and not password:
        raise MailSettingsFault(
            f"there is no password for the mail server; set {PREFIX}PASSWORD, or store it once with: "
            f"keyring set {KEYRING_SERVICE} {user}"
        )
    if "\0" in password:
        raise MailSettingsFault("the password holds a zero character, which no mail server takes.")
    return MailSettings(host, port, security, user, password, authorities)


def set_line(name: str, value: str) -> str:
    """The line to type that sets a variable, for the shell of this system."""
    return f'$env:{name} = "{value}"' if os.name == "nt" else f"export {name}={value}"


def from_keyring(user: str) -> str:
    """The password that the system keeps for the user; empty where there is no keyring or nothing in it."""
    try:
        import keyring
        from keyring.errors import KeyringError
    except ImportError:
        return ""
    try:
        return keyring.get_password(KEYRING_SERVICE, user) or ""
    except (KeyringError, OSError, RuntimeError):
        return ""
