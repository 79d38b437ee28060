"""The calendar's page in a real browser: telephone and desk, day and night, clocks and partners to choose, on paper."""

import datetime as dt
import html as html_module
import json
import re
import shutil
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from pypdf import PdfReader

from pipeline.plan.plan import Plan
from pipeline.reports import browser, calendar, clocks
from pipeline.wording import formats
from tests.plan.months import month_plan

WIDTHS = (320, 390, 430, 760, 1280)
# WCAG 2.2, success criterion 1.4.3: text against its ground.
LEAST_CONTRAST = 4.5

PROGRAM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
needs_browser = pytest.mark.skipif(PROGRAM is None, reason="no chromium on this machine, so none looks at the calendar")

# The ground of a text in a picture: all shapes drawn before it that hold its middle, one over the other.
MEASURE = """
<script>
function channel(value) { const c = value / 255; return c <= 0.03928 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4; }
function light(rgb) { return 0.2126 * channel(rgb[0]) + 0.7152 * channel(rgb[1]) + 0.0722 * channel(rgb[2]); }
function colour(text) { return text.match(/[\\d.]+/g).map(Number); }
function over(above, below) {
  const part = above.length > 3 ? above[3] : 1;
  return [0, 1, 2].map(i => part * above[i] + (1 - part) * below[i]);
}
function ground(element, view) {
  const layers = [];
  for (let one = element; one; one = one.parentElement) {
    const rgb = colour(view.getComputedStyle(one).backgroundColor);
    if (rgb.length < 4 || rgb[3] > 0) layers.unshift(rgb);
  }
  return layers.reduce((below, above) => over(above, below), [255, 255, 255]);
}
function drawnGround(text, view) {
  const box = text.getBBox(), svg = text.ownerSVGElement, point = svg.createSVGPoint();
  point.x = box.x + box.width / 2;
  point.y = box.y + box.height / 2;
  let rgb = ground(svg, view);
  for (const shape of svg.querySelectorAll("path, circle, text")) {
    if (shape === text) break;
    if (shape.tagName === "text" || !shape.isPointInFill(point)) continue;
    const style = view.getComputedStyle(shape);
    if (style.fill === "none") continue;
    rgb = over([...colour(style.fill).slice(0, 3), Number(style.fillOpacity)], rgb);
  }
  return rgb;
}
function measure(frame) {
  const page = frame.contentDocument, view = frame.contentWindow, root = page.documentElement;
  const found = {width: view.innerWidth, scroll: root.scrollWidth, beyond: [], pale: [], small: []};
  for (const element of page.querySelectorAll("main *, nav *, footer, .tools *")) {
    const own = [...element.childNodes].filter(node => node.nodeType === 3 && node.data.trim());
    if (!own.length || ["title", "OPTION", "SELECT"].includes(element.tagName)) continue;
    const range = page.createRange();
    range.selectNodeContents(element);
    const box = range.getBoundingClientRect();
    if (!box.width) continue;
    const style = view.getComputedStyle(element), drawn = element.tagName === "text";
    const both = [light(colour(drawn ? style.fill : style.color)),
      light(drawn ? drawnGround(element, view) : ground(element, view))].sort((a, b) => b - a);
    const contrast = (both[0] + 0.05) / (both[1] + 0.05), words = element.textContent.slice(0, 40);
    if (contrast < %(least)s) found.pale.push([words, contrast]);
    const pushed = element.closest(".chart, .push-box, nav ul");
    const edge = pushed ? pushed.getBoundingClientRect().right : box.right;
    if (edge > view.innerWidth + 0.5 || (!pushed && box.left < -0.5)) found.beyond.push([words, edge]);
    if (!drawn && parseFloat(style.fontSize) < 13) found.small.push([words, style.fontSize]);
  }
  found.ground = colour(view.getComputedStyle(page.body).backgroundColor);
  return found;
}
function choose(frame, name, value) {
  const select = frame.contentDocument.querySelector(`select[name=${name}]`);
  select.selectedIndex = [...select.options].findIndex(one => (one.dataset.name ?? one.value) === value);
  select.dispatchEvent(new Event("change"));
}
function visible(frame, selector) {
  return [...frame.contentDocument.querySelectorAll(selector)].filter(one => one.getClientRects().length)
    .map(one => one.textContent);
}
addEventListener("load", () => {
  const answer = document.createElement("pre");
  answer.id = "answer";
  const told = Object.entries({%(plays)s}).map(([name, play]) =>
    [name, play([...document.querySelectorAll(`iframe[name=${name}]`)])]);
  answer.textContent = JSON.stringify(Object.fromEntries(told));
  document.body.append(answer);
});
</script>
"""


PLAY_CLOCKS = """([frame]) => ["UTC", "QF4LUM", "QM7TOR"].map(name => {
  choose(frame, "clock", name);
  return {times: visible(frame, ".grid .slot time"), at: visible(frame, ".clock-words"), kept: visible(frame, ".keeps"),
    instants: [...frame.contentDocument.querySelectorAll(".grid .slot time")].map(one => one.dateTime),
    lines: visible(frame, ".usable .is-slot td time").length,
    risen: visible(frame, ".grid .is-idle .small time, .highs .instead time")};
})"""

PLAY_PARTNER = """([frame]) => ["QF4LUM", "QI9TEA", ""].map(call => {
  choose(frame, "partner", call);
  return {slots: visible(frame, ".grid .slot a"), agenda: visible(frame, ".slots tbody th[scope=row] a"),
    blocks: visible(frame, ".usable h2"), squares: visible(frame, ".carpets svg.carpet").length,
    columns: visible(frame, ".highs thead th"), arrive: visible(frame, ".grid .care time").length,
    left: visible(frame, ".agenda > .left strong"), size: measure(frame)};
})"""

PLAY_COURSE = """([frame]) => {
  const texts = [...frame.contentDocument.querySelectorAll(".moon-course svg text")].map(one => [one, one.getBBox()]);
  const names = ([one]) => one.textContent, found = [];
  for (const [place, [one, a]] of texts.entries()) for (const [other, b] of texts.slice(place + 1))
    if (a.x < b.x + b.width && b.x < a.x + a.width && a.y + 2 < b.y + b.height && b.y + 2 < a.y + a.height)
      found.push([one.textContent, other.textContent]);
  const curve = frame.contentDocument.querySelector('.moon-course svg path[stroke-linejoin]');
  for (let along = 0; along < curve.getTotalLength(); along += 0.5) {
    const {x, y} = curve.getPointAtLength(along);
    for (const [one, a] of texts)
      if (/^Q/.test(one.textContent) && x > a.x && x < a.x + a.width && y > a.y + 1 && y < a.y + a.height - 1)
        found.push([one.textContent, "the curve"]);
  }
  return {calls: texts.map(names).filter(words => /^Q/.test(words)), found};
}"""

PLAY_BARE = """([frame]) => ({tools: visible(frame, ".tools *"), agenda: visible(frame, ".slots tbody th[scope=row] a"),
  times: visible(frame, ".grid .slot time"), utc: visible(frame, ".slots .utc")})"""


@dataclass(frozen=True)
class Play:
    """A function of frames with the page, one of each width, that tells what is seen or chosen in them."""

    name: str
    script: str
    widths: tuple[int, ...]
    scripts: bool = True


SIZES = Play("sizes", "frames => frames.map(measure)", WIDTHS)
PLAYS = (
    SIZES,
    Play("clocks", PLAY_CLOCKS, (1280,)),
    Play("partner", PLAY_PARTNER, (390,)),
    Play("course", PLAY_COURSE, (1280,)),
    Play("bare", PLAY_BARE, (390,), scripts=False),
)


@pytest.fixture(scope="module")
def plan() -> Plan:
    return month_plan()


@pytest.fixture(scope="module")
def page(plan: Plan) -> str:
    return calendar.calendar_pages(plan, with_pdf=False)[0]


def frame(text: str, play: Play, width: int) -> str:
    """A window of its own on the page."""
    sandbox = "" if play.scripts else 'sandbox="allow-same-origin" '
    style = f"width:{width}px;height:700px;border:0"
    return f'<iframe name="{play.name}" {sandbox}style="{style}" srcdoc="{html_module.escape(text)}"></iframe>'


def played(text: str, plays: Sequence[Play], folder: Path, dark: bool = False) -> dict[str, Any]:
    """What each play tells of its frames with the page, all in one start of the browser."""
    frames = "".join(frame(text, play, width) for play in plays for width in play.widths)
    around = folder / "around.html"
    scripts = ",\n".join(f"{play.name}: {play.script}" for play in plays)
    measure = MEASURE % {"least": LEAST_CONTRAST, "plays": scripts}
    around.write_text(f"<!DOCTYPE html><html><meta charset='utf-8'><body>{frames}{measure}</body></html>", "utf-8")
    run = subprocess.run(
        [
            str(PROGRAM), "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--no-first-run",
            f"--user-data-dir={folder / 'profile'}", "--window-size=1400,900", "--virtual-time-budget=5000",
            f"--blink-settings=preferredColorScheme={0 if dark else 1}", "--dump-dom", around.as_uri(),
        ],
        capture_output=True, timeout=120, check=False,
    )  # fmt: skip
    answer = re.search(r'<pre id="answer">(.*?)</pre>', run.stdout.decode(), re.DOTALL)
    assert answer, run.stderr.decode()[-2000:]
    found: dict[str, Any] = json.loads(html_module.unescape(answer[1]))
    return found


@pytest.fixture(scope="module")
def by_day(page: str, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    return played(page, PLAYS, tmp_path_factory.mktemp("day"))


@pytest.fixture(scope="module")
def by_night(page: str, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    return played(page, [SIZES], tmp_path_factory.mktemp("night"), dark=True)


@needs_browser
@pytest.mark.slow
@pytest.mark.parametrize("dark", [False, True])
def test_all_can_be_read_at_any_width_by_day_and_by_night(dark: bool, request: pytest.FixtureRequest) -> None:
    found = request.getfixturevalue("by_night" if dark else "by_day")["sizes"]
    assert [one["width"] for one in found] == list(WIDTHS)
    for one in found:
        assert one["scroll"] <= one["width"], one["width"]
        assert one["beyond"] == [], one["width"]
        assert one["pale"] == [], one["width"]
        assert one["small"] == [], one["width"]
        assert (max(one["ground"][:3]) < 64 and one["ground"][3:] != [0]) == dark


@needs_browser
@pytest.mark.slow
def test_a_reader_switches_between_home_utc_and_a_partners_clock(plan: Plan, by_day: dict[str, Any]) -> None:
    """Each time against the slot's own instant and the zone database."""
    shown = by_day["clocks"]
    slots = sorted(plan.slots, key=lambda slot: slot.start)
    zones = (ZoneInfo("UTC"), ZoneInfo("Europe/Helsinki"), ZoneInfo("America/Montevideo"))
    for told, zone in zip(shown, zones, strict=True):
        assert told["instants"] == [f"{slot.start.astimezone(dt.UTC):%Y-%m-%dT%H:%MZ}" for slot in slots]
        local = [slot.start.astimezone(zone) for slot in slots]
        assert [time[-5:] for time in told["times"]] == [f"{time:%H:%M}" for time in local]
        for words, slot, time in zip(told["times"], slots, local, strict=True):
            assert words[:-6] == ("" if time.date() == slot.night else formats.WEEKDAYS[time.weekday()])
        assert told["lines"] == 2 * len(slots)
    assert all(words == "times in UTC" for words in shown[0]["at"])
    assert all(words.startswith("times at QF4LUM, UTC+2, from Sun 28 Mar UTC+3") for words in shown[1]["at"])
    assert len(shown[0]["kept"]) == 1
    assert shown[2]["kept"] == []
    assert "times are local (UTC−3)" in shown[2]["at"]
    # The one date without a night: the same Moonrise on both pages that tell it, by the clock that is chosen.
    for told, words in zip(shown, ("01:49 on Monday", "04:49 on Monday", "22:49"), strict=True):
        assert told["risen"] == [f"no night: Moonrise {words}"] * 2


@needs_browser
@pytest.mark.slow
def test_a_reader_picks_one_partner(plan: Plan, by_day: dict[str, Any]) -> None:
    one, without, everybody = by_day["partner"]
    mine = [slot for slot in plan.slots if slot.call == "QF4LUM"]
    assert one["slots"] == one["agenda"] == ["QF4LUM"] * len(mine) != []
    assert [words.split()[0] for words in one["blocks"]] == ["QF4LUM"]
    assert one["squares"] == 1
    assert one["columns"] == ["night", "QF4LUM"]
    assert without["slots"] == without["agenda"] == without["blocks"] == []
    assert without["left"] == ["QI9TEA"]
    assert without["arrive"] == 0 < everybody["arrive"]
    assert len(everybody["slots"]) == len(everybody["agenda"]) == len(plan.slots)
    for shown in (one, without):
        assert shown["size"]["scroll"] <= 390
        assert shown["size"]["beyond"] == []


@needs_browser
@pytest.mark.slow
def test_nothing_overprints_in_the_course(plan: Plan, by_day: dict[str, Any]) -> None:
    """By the browser's own boxes: no words on words, no call on the curve."""
    shown = by_day["course"]
    assert shown["found"] == []
    assert len(shown["calls"]) == len(plan.slots)


@needs_browser
@pytest.mark.slow
def test_without_scripts_all_stands_there_by_homes_clock(plan: Plan, by_day: dict[str, Any]) -> None:
    shown = by_day["bare"]
    assert shown["tools"] == []
    assert len(shown["agenda"]) == len(shown["times"]) == len(shown["utc"]) == len(plan.slots)


@needs_browser
@pytest.mark.slow
def test_it_prints_like_the_pdf(plan: Plan, page: str) -> None:
    """As many sheets of the same sizes as the PDF's own markup gives in the same browser, and without the tools."""
    document = calendar.calendar_pages(plan)[1]
    assert document is not None
    by_hand, made = (browser.print_page(text, Path(str(PROGRAM))) for text in (page, document.html))
    assert browser.page_sizes(by_hand) == browser.page_sizes(made)
    # In the PDF's markup the words of a drawing that look alike stand together, so that only their order differs.
    first = [
        [line.strip() for line in PdfReader(BytesIO(content)).pages[0].extract_text().splitlines()]
        for content in (by_hand, made)
    ]
    assert sorted(first[0]) == sorted(first[1])
    assert not any("everybody" in line for line in first[0])


def test_the_script_asks_nobody_and_computes_no_time(page: str) -> None:
    (script,) = re.findall(r"<script>(.*?)</script>", page, re.DOTALL)
    assert len(script) < 2500
    assert not re.search(r"fetch|XMLHttp|import|https?:|Date|Intl|innerHTML|eval|storage", script)


def test_words_by_every_clock_stand_beside_each_time(plan: Plan, page: str) -> None:
    told = re.findall(r'<time datetime="(\S+)" data-clocks="(.*?)">', page, re.DOTALL)
    assert len(told) > 2 * len(plan.slots)
    zones = clocks.other_zones(plan)
    assert all(words.count(clocks.BETWEEN) == len(zones) - 1 for _, words in told)
    document = calendar.calendar_pages(plan)[1]
    assert document is not None
    assert not re.search(r"<time|data-calls|data-clocks|<script|<select", document.html)
