"""Who a mail is from: its one From address (RFC 5322, 3.6.2), and what the receiving server found (RFC 8601).

Of the Authentication-Results only those of the server that wrote the topmost one are looked at: each server puts its
own on top, and what stands below may come from the sender. The topmost may speak for a mail; further ones of the same
name only against it, for a sender can write that name as well.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

LONGEST_FROM = 1_000
LONGEST_RESULTS = 10_000
MOST_RESULTS = 20
# What does not close reaches to the end.
QUOTED = re.compile(r'"(?:\\.|[^"\\])*(?:"|\Z)', re.DOTALL)
# One comment without comments in it; taken out until none is left.
COMMENT = re.compile(r"\((?:\\.|[^()\\])*(?:\)|\Z)", re.DOTALL)
DEEPEST_COMMENT = 10
ADDRESS = r"[^\s<>()\[\],;:@\"\\]+@[^\s<>()\[\],;:@\"\\]+"
# `address`, or `words <address>` where the words hold none of the signs that must be quoted.
BARE = re.compile(rf"\s*({ADDRESS})\s*")
NAMED = re.compile(rf"[^<>()\[\],;:@\"\\]*<\s*({ADDRESS})\s*>\s*")
RESULT = re.compile(r"\s*([a-z0-9-]{1,40})\s*(?:/\s*\d+\s*)?=\s*([a-z]{1,20})\b(.*)", re.DOTALL | re.ASCII)
PROPERTY = re.compile(r"\b(?:header\.(?:d|i|from)|smtp\.mailfrom)\s*=\s*\"?([^\s\";]+)", re.ASCII)
FAILURES = ("fail", "softfail", "policy", "permerror")


@dataclass(frozen=True)
class Result:
    """One method's result: `domains` are those that it speaks of."""

    method: str
    result: str
    domains: tuple[str, ...] = ()


def from_addresses(values: Sequence[object]) -> tuple[str, ...]:
    """The addresses of all From headers, bare and in small letters: one only where there is exactly one in one header.

    Nothing is decoded first: an encoded word (RFC 2047, section 5) is never part of an address, whatever it spells.
    A header that is not of the plain form gives all that looks like an address in it, and never just one.
    """
    found: list[str] = []
    for value in values[:MOST_RESULTS]:
        text = str(value)
        plain = without_comments(QUOTED.sub(" ", text[:LONGEST_FROM]))
        one = BARE.fullmatch(plain) or NAMED.fullmatch(plain)
        if one is not None and len(text) <= LONGEST_FROM:
            found.append(one[1].casefold())
        else:
            loose = [each.casefold() for each in re.findall(ADDRESS, text[:LONGEST_FROM])]
            found += loose if len(loose) != 1 else [*loose, ""]
    return tuple(found)


def without_comments(text: str) -> str:
    """The text without comments in brackets, also those within others."""
    for _ in range(DEEPEST_COMMENT):
        text, count = COMMENT.subn(" ", text)
        if not count:
            break
    return text


def failed_authentication(values: Sequence[object], sender: str) -> str:
    """What the receiving server found wrong with a mail that names this sender, as `mx.post.example: dmarc=fail`.

    Empty where it found nothing wrong, or looked at nothing. DMARC speaks of the From address itself and decides where
    it has a result; else a failed DKIM or SPF counts, unless the other one passed for the sender's own domain.
    """
    heads = [parsed(str(value)[:LONGEST_RESULTS]) for value in values[:MOST_RESULTS]]
    if not heads:
        return ""
    server, topmost = heads[0]
    others = [one for name, results in heads[1:] if name == server for one in results]
    decided = [one for one in topmost if one.method == "dmarc" and one.result in ("pass", "fail")]
    wrong = [one for one in (*topmost, *others) if one.method == "dmarc" and one.result == "fail"]
    if not decided and not wrong:
        domain = sender.rpartition("@")[2]
        vouched = any(
            one.method in ("dkim", "spf") and one.result == "pass" and any(same_owner(domain, d) for d in one.domains)
            for one in topmost
        )
        weak = [one for one in (*topmost, *others) if one.method in ("dkim", "spf") and one.result in FAILURES]
        wrong = [] if vouched else weak
    words = ", ".join(dict.fromkeys(f"{one.method}={one.result}" for one in wrong))
    return f"{server}: {words}" if words else ""


def parsed(text: str) -> tuple[str, list[Result]]:
    """The server that wrote a header, and its results (RFC 8601, section 2.2); what cannot be read is left out."""
    # A quoted text may hold brackets and semicolons: those of a reason say nothing to us.
    plain = without_comments(QUOTED.sub(" ", text)).casefold()
    server, *rest = plain.split(";")
    found = []
    for part in rest:
        one = RESULT.fullmatch(part)
        if one is not None:
            found.append(Result(one[1], one[2], tuple(PROPERTY.findall(one[3]))))
    return (server.split() or [""])[0], found


def same_owner(domain: str, other: str) -> bool:
    """Whether a domain is the other one or stands below it; two labels at least, so that no country vouches."""
    other = other.rpartition("@")[2].strip(".")
    return bool(domain) and "." in other and (domain == other or domain.endswith(f".{other}"))
