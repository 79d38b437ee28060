"""What a page of HTML is checked for: the order of its headings, and nothing from outside."""

from __future__ import annotations

import re
from html.parser import HTMLParser


class Headings(HTMLParser):
    """Collects heading levels, outside links and table heads without scope."""

    def __init__(self) -> None:
        super().__init__()
        self.levels: list[int] = []
        self.faults: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = dict(attrs)
        if re.fullmatch(r"h\d", tag):
            self.levels.append(int(tag[1]))
        if any((named.get(key) or "#")[0] not in "#d" for key in ("src", "href")):
            self.faults.append(tag)
        if tag == "th" and named.get("scope") not in ("col", "row"):
            self.faults.append("th without scope")
