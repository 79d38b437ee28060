"""How the letter looks: in a real browser as wide as a telephone and a desk, by day and by night; and the PDF page."""

import dataclasses
import html as html_module
import json
import re
import shutil
import subprocess
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from pipeline.letters.building import build_letter
from pipeline.letters.templates import Templates
from pipeline.letters.windows_page import sheet_of
from pipeline.plan.plan import Plan
from tests.letters.letters_of import made_for, page_of, with_station
from tests.letters.readers import body, opened
from tests.letters.stand_in import demo_letters, offer_of, slot, with_slots
from tests.plan.months import month_plan

WIDTHS = (320, 390, 1200)
# WCAG 2.2, success criterion 1.4.3: text against its ground.
LEAST_CONTRAST = 4.5

MEASURE = """
<script>
const shown = [];
function channel(value) { const c = value / 255; return c <= 0.03928 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4; }
function light(rgb) { return 0.2126 * channel(rgb[0]) + 0.7152 * channel(rgb[1]) + 0.0722 * channel(rgb[2]); }
function colour(text) { return text.match(/[\\d.]+/g).map(Number); }
function ground(element, view) {
  for (let one = element; one; one = one.parentElement) {
    const rgb = colour(view.getComputedStyle(one).backgroundColor);
    if (rgb.length < 4 || rgb[3] > 0) return rgb;
  }
  return [255, 255, 255];
}
addEventListener("load", () => {
  for (const frame of document.querySelectorAll("iframe")) {
    const root = frame.contentDocument.documentElement, view = frame.contentWindow;
    let contrast = 99, smallest = 99;
    for (const element of frame.contentDocument.querySelectorAll("body *")) {
      if (![...element.childNodes].some(node => node.nodeType === 3 && node.data.trim())) continue;
      const style = view.getComputedStyle(element);
      const both = [light(colour(style.color)), light(ground(element, view))].sort((a, b) => b - a);
      contrast = Math.min(contrast, (both[0] + 0.05) / (both[1] + 0.05));
      smallest = Math.min(smallest, parseFloat(style.fontSize));
    }
    const widest = Math.max(...[...frame.contentDocument.querySelectorAll("body *")].filter(
      element => !element.closest(".wide table")).map(element => element.getBoundingClientRect().right));
    const wide = [...frame.contentDocument.querySelectorAll(".wide")].map(box => box.scrollWidth - box.clientWidth);
    let broken = 0;
    for (const head of frame.contentDocument.querySelectorAll("th, h2")) {
      const range = frame.contentDocument.createRange();
      range.selectNodeContents(head);
      broken += range.getClientRects().length > head.textContent.trim().split(/\\s+/).length;
    }
    shown.push({name: frame.name, width: view.innerWidth, scroll: root.scrollWidth, widest, contrast, smallest, broken,
      sideways: Math.max(0, ...wide),
      ground: colour(view.getComputedStyle(frame.contentDocument.body).backgroundColor).slice(0, 3)});
  }
  const answer = document.createElement("pre");
  answer.id = "answer";
  answer.textContent = JSON.stringify(shown);
  document.body.append(answer);
});
</script>
"""


@pytest.fixture(scope="module")
def plan() -> Plan:
    return demo_letters()


@pytest.fixture(scope="module")
def letters(plan: Plan) -> dict[str, str]:
    """Letters of every kind, the widest tables among them."""
    base = month_plan()
    row = slot(base, "QF4LUM", "A", 6)
    moved = with_slots(base, row, offers=[offer_of(slot(base, "QF4LUM", "A", 7))])
    policy = dataclasses.replace(base.inputs.season.policy, dialing="meet-at-the-moon")
    season = dataclasses.replace(base.inputs.season, policy=policy)
    two_dials = dataclasses.replace(plan, inputs=dataclasses.replace(plan.inputs, season=season))
    unbroken = tuple(dataclasses.replace(one, operator="Wwwwwwwww" * 20) for one in plan.inputs.partners)
    long_name = dataclasses.replace(plan, inputs=dataclasses.replace(plan.inputs, partners=unbroken))
    found = {
        "slots": (plan, "QF4LUM"),
        "moved": (moved, "QF4LUM"),
        "two dials": (two_dials, "QF4LUM"),
        "no slot": (plan, "QK3RED"),
        "no window": (plan, "QI9TEA"),
        "long name": (long_name, "QF4LUM"),
    }
    return {name: body(opened(made_for(one, call).files["letter.eml"]), "html") for name, (one, call) in found.items()}


@pytest.mark.slow
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_browser_shows_the_letter_without_pushing_sideways(letters, scheme, tmp_path: Path):
    browser = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if browser is None:
        pytest.skip("no chromium on this machine, so no browser looks at the letters")
    frames = "".join(
        f'<iframe name="{name} {width}" style="width:{width}px;height:600px;border:0" '
        f'srcdoc="{html_module.escape(text)}"></iframe>'
        for name, text in letters.items()
        for width in WIDTHS
    )
    page = tmp_path / "page.html"
    page.write_text(f"<!DOCTYPE html><html><meta charset='utf-8'><body>{frames}{MEASURE}</body></html>", "utf-8")
    run = subprocess.run(
        [
            browser, "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--no-first-run",
            f"--user-data-dir={tmp_path / 'profile'}", "--window-size=1300,900", "--virtual-time-budget=3000",
            f"--blink-settings=preferredColorScheme={0 if scheme == 'dark' else 1}", "--dump-dom", page.as_uri(),
        ],
        capture_output=True, timeout=90, check=False,
    )  # fmt: skip
    answer = re.search(r'<pre id="answer">(.*?)</pre>', run.stdout.decode(), re.DOTALL)
    assert answer, run.stderr.decode()[-2000:]
    found = json.loads(html_module.unescape(answer[1]))
    assert len(found) == len(letters) * len(WIDTHS)
    for one in found:
        assert one["scroll"] <= one["width"], one
        assert one["widest"] <= one["width"], one
        # No heading is broken inside a word: a table too wide for narrow glass is moved alone.
        assert one["broken"] == 0, one
        assert one["sideways"] == 0 or one["width"] == 320 or (one["name"], one["width"]) == ("two dials 390", 390), one
        assert one["contrast"] >= LEAST_CONTRAST, one
        assert one["smallest"] >= 14, one
        assert (max(one["ground"]) < 64) == (scheme == "dark"), one


@pytest.fixture(scope="module")
def pages(plan: Plan) -> dict[str, PdfReader]:
    """The page of a partner with slots, with one slot, and without a window."""
    return {call: PdfReader(BytesIO(page_of(plan, call, Templates()))) for call in ("QF4LUM", "QT8NUI", "QI9TEA")}


def text_of(reader: PdfReader) -> str:
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in reader.pages))


@pytest.mark.slow
def test_the_page_is_one_sheet_or_two_and_carries_the_plan_number(pages, plan):
    for reader in pages.values():
        assert len(reader.pages) <= 2
        for page in reader.pages:
            assert f"plan {plan.number}" in page.extract_text()
        assert plan.number in (reader.metadata or {})["/Title"]


@pytest.mark.slow
def test_slots_stand_on_top_and_every_window_below(pages, plan):
    text = text_of(pages["QF4LUM"])
    local, utc = text.index("Wednesday 10 March 2027, 14:30 to 15:30 (UTC+2)"), text.index("12:30 to 13:30")
    assert local < utc < text.index("All times")
    own = plan.windows[plan.windows["partner"] == "QF4LUM"]
    below = text[text.index("All times") :]
    for row in own.to_dict("records"):
        first = row["window_start_utc"].ceil("1min")
        assert f"{first:%a} {first.day} {first:%b %H:%M} to " in below
    assert below.count(" h ") + below.count(" min ") >= len(own)


@pytest.mark.slow
def test_the_list_of_all_times_is_not_torn(pages):
    (last,) = [page for page in pages["QF4LUM"].pages if "All times" in page.extract_text()]
    assert last == pages["QF4LUM"].pages[-1]


@pytest.mark.slow
def test_the_page_without_a_window_says_why(pages):
    text = text_of(pages["QI9TEA"])
    assert "Sadly the Moon gives us no common time" in text
    assert "All times" not in text


@pytest.mark.slow
def test_the_page_keeps_to_the_paper_and_tells_utc_where_no_zone_is_known(plan):
    report = dataclasses.replace(plan.inputs.season.report, paper="letter")
    season = dataclasses.replace(plan.inputs.season, report=report)
    other = dataclasses.replace(plan, inputs=dataclasses.replace(plan.inputs, season=season))
    other = with_station(other, "QF4LUM", time_zone=None)
    (page, *_) = PdfReader(BytesIO(page_of(other, "QF4LUM", Templates()))).pages
    assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx((612, 792), abs=0.5)
    assert "your time" not in page.extract_text()
    assert "Wednesday 10 March 2027, 12:30 to 13:30" in re.sub(r"\s+", " ", page.extract_text())


def test_the_partners_own_sheet_draws_its_slots_over_its_own_skyline() -> None:
    """The drawing's title tells each slot's label and height; the height is that of the samples inside the slot."""
    plan = month_plan()
    drawn = 0
    for partner in plan.inputs.partners:
        view = plan.for_partner(partner.call)
        sheet = sheet_of(view, build_letter(view))
        title = re.search(r"<title>(.*?)</title>", str(sheet.skyline))
        assert (title is not None) == bool(view.slots)
        if title is None:
            continue
        heights = [int(found) for found in re.findall(r"up to (\d+) degrees", title[1])]
        assert len(heights) == len(view.slots)
        for slot_, height in zip(view.slots, heights, strict=True):
            inside = view.samples[view.samples["time_utc"].between(slot_.start, slot_.end)]
            seen = (inside["partner_elevation_deg"] + inside["partner_refraction_deg"]).max()
            assert height == pytest.approx(seen, abs=1.6)
            drawn += 1
        assert str(sheet.skyline).count("<path") == 5
    assert drawn == len(plan.slots) > 0
