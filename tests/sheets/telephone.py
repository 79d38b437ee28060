"""A telephone for tests: the machine's Chromium, its clock set by the test, driven over its debugging pipe.

The DevTools protocol (open specification) over two pipes, one JSON message a zero byte: standard library alone. The
clock is put in before the page loads, whatever the page's address or its content security policy.
"""

from __future__ import annotations

import datetime as dt
import json
import os
import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

# Everything that reads the clock reads this one; it stands still until it is set again.
CLOCK = """
(() => {
  const Real = Date;
  let now = %d;
  window.Date = class extends Real {
    constructor(...given) { if (given.length) { super(...given); } else { super(now); } }
    static now() { return now; }
  };
  window.setTestClock = (ms) => { now = ms; document.dispatchEvent(new Event("visibilitychange")); };
  window.addEventListener("securitypolicyviolation", (one) => { (window.refused ||= []).push(one.violatedDirective); });
  window.addEventListener("error", (one) => { (window.failed ||= []).push(one.message); });
})();
"""


class Telephone:
    """One page in a browser of the size of a telephone's glass."""

    def __init__(self, to_browser: int, from_browser: int) -> None:
        """Takes the file descriptors of both pipes."""
        self._out, self._in, self._rest, self._number = to_browser, from_browser, b"", 0
        self._session = ""
        self._clock_id = ""
        target = self.ask("Target.createTarget", url="about:blank")["targetId"]
        self._session = self.ask("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        self.ask("Page.enable")

    def ask(self, method: str, **values: Any) -> dict[str, Any]:
        """One command and its answer; AssertionError where the browser refuses it or says nothing."""
        self._number += 1
        message = {"id": self._number, "method": method, "params": values}
        if self._session:
            message["sessionId"] = self._session
        os.write(self._out, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._next()
            if answer.get("id") == self._number:
                assert "error" not in answer, answer
                found: dict[str, Any] = answer["result"]
                return found

    def _next(self) -> dict[str, Any]:
        while b"\0" not in self._rest:
            piece = os.read(self._in, 1 << 20)
            assert piece, "the browser has gone"
            self._rest += piece
        first, self._rest = self._rest.split(b"\0", 1)
        found: dict[str, Any] = json.loads(first)
        return found

    def open(self, page: Path, now: dt.datetime, width: int = 360, height: int = 780, script: bool = True) -> None:
        """Loads a page at this instant."""
        self.ask("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=2, mobile=True)
        self.ask("Emulation.setScriptExecutionDisabled", value=not script)
        if self._clock_id:
            self.ask("Page.removeScriptToEvaluateOnNewDocument", identifier=self._clock_id)
        source = CLOCK % round(now.timestamp() * 1000)
        self._clock_id = self.ask("Page.addScriptToEvaluateOnNewDocument", source=source)["identifier"]
        self.ask("Page.navigate", url=page.as_uri())
        while self.run("document.readyState + location.href") != f"complete{page.as_uri()}":
            time.sleep(0.02)

    def at(self, now: dt.datetime) -> None:
        """Sets the clock and lets the page see it."""
        self.run(f"setTestClock({round(now.timestamp() * 1000)})")

    def run(self, script: str) -> Any:
        """The value of an expression in the page."""
        answer = self.ask("Runtime.evaluate", expression=script, returnByValue=True)
        assert "exceptionDetails" not in answer, answer
        return answer["result"].get("value")

    def text(self, selector: str) -> str:
        """What stands in an element."""
        return str(self.run(f"document.querySelector({json.dumps(selector)}).innerText"))

    def rows(self) -> list[list[str]]:
        """The timetable's lines: when, what, and large what is dialled."""
        script = (
            "[...document.querySelectorAll('#rows li')].map(one => ["
            "(one.children[0].firstChild || {}).textContent || '', one.children[1].firstChild.textContent, "
            "(one.querySelector('b') || {}).textContent || ''])"
        )
        found: list[list[str]] = self.run(script)
        return found

    def tap(self, selector: str) -> None:
        """A finger on the middle of an element."""
        self.run(f"document.querySelector({json.dumps(selector)}).click()")

    def type(self, selector: str, text: str) -> None:
        """Text into a field, as if typed."""
        script = f"(one => {{ one.value = {json.dumps(text)}; one.dispatchEvent(new Event('input')); }})"
        self.run(f"{script}(document.querySelector({json.dumps(selector)}))")


def _high(descriptor: int) -> int:
    """A copy of a descriptor out of the way of those that the browser wants."""
    import fcntl

    copy = fcntl.fcntl(descriptor, fcntl.F_DUPFD_CLOEXEC, 20)
    os.close(descriptor)
    return copy


@contextmanager
def telephone(program: Path, folder: Path) -> Iterator[Telephone]:
    """A browser with a fresh profile in `folder`, gone afterwards with everything that it started."""
    ask_read, ask_write = map(_high, os.pipe())
    told_read, told_write = map(_high, os.pipe())
    command = [
        str(program), "--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--no-first-run",
        "--hide-scrollbars", "--disable-background-networking", "--disable-component-update", "--disable-sync",
        "--host-resolver-rules=MAP * ~NOTFOUND", f"--user-data-dir={folder / 'profile'}", "--remote-debugging-pipe",
    ]  # fmt: skip
    silent = os.open(os.devnull, os.O_RDWR)
    moves = [(os.POSIX_SPAWN_DUP2, old, new) for old, new in ((silent, 1), (silent, 2), (ask_read, 3), (told_write, 4))]
    process = os.posix_spawn(str(program), command, os.environ, file_actions=moves, setpgroup=0)
    for one in (ask_read, told_write, silent):
        os.close(one)
    try:
        yield Telephone(ask_write, told_read)
    finally:
        os.close(ask_write)
        os.close(told_read)
        os.killpg(process, signal.SIGKILL)
        os.waitpid(process, 0)
