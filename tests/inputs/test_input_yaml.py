"""Broken, hostile and odd YAML ends in one plain sentence with its line, and any text at all in nothing worse."""

# ruff: noqa: E501 - a fault a line reads as a table
from __future__ import annotations

from contextlib import suppress
from pathlib import Path

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.inputs.faults import InputFaults
from pipeline.inputs.roster import import_roster
from pipeline.inputs.season import read_season
from pipeline.inputs.station import read_station
from pipeline.inputs.yaml_tree import load_tree
from pipeline.record.inputs import read_inputs
from tests.inputs.helpers import HOME, PARTNER, SEASON, lay_out

BROKEN = [
    (b"", "the file is empty; fill it in or move it away."),
    (b"  \n\n", "the file is empty; fill it in or move it away."),
    (b"call: Q\x00\n", "the file is not plain text; save it as UTF-8 text."),
    (b"\xff\xfec\x00a\x00", "the file is not plain text; save it as UTF-8 text."),
    (b"call: QA1AA\nname: M\xfcller\n", "line 2: this line holds a letter that is not UTF-8; save the file with the encoding UTF-8 (it reads as `name: Müller` then)."),
    (b"x" * 1_000_001, "the file is over 1 MB; a text of some pages is meant."),
    (b"call: QA1AA\nbands:\n\t3cm: 1\n", "line 3: the line begins with a tab; YAML wants spaces; begin with 2: `3cm: 1`."),
    (b"call: QA1AA\nname: - x\n", "line 2: a dash stands where none is meant; write `name: x`, and entries of a list on lines of their own."),
    (b"call:\tQA1AA\nname: x\n", "line 1: the line holds a tab; YAML wants spaces: `call: QA1AA`."),
    (b"call: QA1AA\nname: a: b\n", "line 2: the line holds a second colon; put text with a colon in quotes: `name: \"a: b\"`."),
    (b"call: QA1AA\n  name: x\n", "line 2: the line begins with 2 spaces, deeper than line 1, which has its value already; begin it with none: `name: x`."),
    (b"a:\n  b: 1\n c: 2\n", "line 3: the line begins with 1 space, line 2 of the same level with 2; begin it with 2: `c: 2`."),
    (b"call: QA1AA\nname\nx: 1\n", "line 2: a key without a colon; write `name:`."),
    (b"call QA1AA\nname: x\n", "line 1: a key without a colon; write `call: QA1AA`."),
    (b"call: QA1AA\nname: >loud\n", "line 2: a value begins with a character that YAML keeps; put the value in quotes: `name: \">loud\"`."),
    (b"call: QA1AA\nname: !{loud\n", "line 2: a value begins with a character that YAML keeps; put the value in quotes: `name: \"!{loud\"`."),
    (b"call: {a: 1\nname: x\n", "line 1: the curly bracket that opens here is not closed; write `call: {a: 1}`."),
    (b"call: 'QA1AA\n", "line 1: the quotation mark that opens here is not closed; write `call: 'QA1AA'`."),
    (b"call: @home\n", "line 1: a value begins with a character that YAML keeps; put the value in quotes: `call: \"@home\"`."),
    (b'call: "\\q"\n', "line 1: a backslash in double quotes begins an escape; use single quotes."),
    (b'call: "\\UFFFFFFFF"\n', "the file holds a character or escape that YAML does not know; write the letter itself."),
    (b'call: "\\ud800"\n', "line 1: the value holds the control character U+D800; take it out."),
    (b"home: QA1AA\n\nhome: QB1BB\n", "line 3: the key 'home' stands here again, first in line 1; keep one of them: QA1AA there, QB1BB here."),
    (b"bands:\n  3cm: {power_w: 1, power_w: 2}\n", "line 2: the key 'bands.3cm.power_w' stands here again, first in line 2; keep one of them: 1 there, 2 here."),
    (b"a: &x 1\nb: *x\n", "line 1: the anchor &x is not taken; put text with & in quotes."),
    (b"b: *x\n", "line 1: the alias *x is not taken; write the lines out."),
    (b"a: {b: 1}\nc:\n  <<: {d: 1}\n", "line 3: the merge key << is not taken; write the lines out."),
    (b"call: !!python/object/apply:os.system [ls]\n", "line 1: the tag tag:yaml.org,2002:python/object/apply:os.system is not taken; put text with ! in quotes."),
    (b"- a\n- b\n", "line 1: the file holds a list; lines such as `call: QM7TOR` are meant."),
    (b"just words\n", "line 1: this line is no key with its value; put `# ` before it if it is a note."),
    (b"# nothing\n", "line 1: the file holds nothing; lines such as `call: QM7TOR` are meant."),
    (b"call: QA1AA\n---\ncall: QB1BB\n", "line 2: a second document begins here (---); one file holds one station or season."),
    (b"? [a, b]\n: c\n", "line 1: a list or mapping stands where a key is meant; check the brackets and colons."),
    (b"call: QA1AA\nname: a\x1bb\n", "line 2: the line holds the control character U+001B; take it out."),
    (b"name: a\xe2\x80\xaeb\n", "line 1: the line holds the control character U+202E; take it out."),
]  # fmt: skip


@pytest.mark.parametrize(("raw", "sentence"), BROKEN)
def test_broken_file(raw: bytes, sentence: str) -> None:
    with pytest.raises(InputFaults) as caught:
        load_tree(raw, "file.yaml")
    separator = ", " if sentence.startswith("line ") else ": "
    assert str(caught.value) == f"file.yaml{separator}{sentence}"


def test_too_many_values_are_refused_in_good_time() -> None:
    with pytest.raises(InputFaults, match="more than 50000 keys and values"):
        load_tree(b"a: [" + b"x," * 400_000, "file.yaml")


@pytest.mark.parametrize("raw", [HOME.encode(), SEASON.encode(), PARTNER.encode()])
def test_both_parsers_build_the_same_tree(raw: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
    quick = load_tree(raw, "file.yaml")
    monkeypatch.delattr(yaml, "CBaseLoader", raising=False)
    assert load_tree(raw, "file.yaml") == quick


@pytest.mark.parametrize("raw", [b"[" * 100_000, b"{a: " * 50_000, b"- " * 100_000, b"? " * 50_000])
def test_deep_nesting_is_refused_and_does_not_crash(raw: bytes) -> None:
    with pytest.raises(InputFaults, match=r"nested too deeply|where a key is meant"):
        load_tree(raw, "file.yaml")


def test_values_stay_texts_and_null_is_absent() -> None:
    tree = load_tree(b"a: 18:00\nb: NO\nc: 010\nd: null\ne: ~\nf:\ng: 'null'\n", "file.yaml")
    assert tree.data == {"a": "18:00", "b": "NO", "c": "010", "d": "", "e": "", "f": "", "g": "null"}
    assert tree.lines[("g",)] == 7


def consume(raw: bytes) -> None:
    """Read bytes as a station and as a season; only InputFaults may end it."""
    try:
        tree = load_tree(raw, "file.yaml")
    except InputFaults:
        return
    for read in (read_station(tree), read_season(tree)):
        for fault in read.faults:
            assert "\n" not in str(fault)
            assert len(fault.message) < 1000


# Text made of what matters to the parser and the contract comes near the faults sooner than any text does.
ODDITIES = [
    "\n",
    "  ",
    "- ",
    ": ",
    "{",
    "}",
    "[",
    "]",
    ",",
    "'",
    '"',
    "#",
    "&a",
    "*a",
    "!x",
    "|\n",
    ">\n",
    "? ",
    "\t",
    "%",
]
ODDITIES += [
    "call",
    "position",
    "bands",
    "3cm",
    "1,8",
    "-1",
    "1e400",
    "24:00",
    "2027-02-30",
    "always",
    "\u2212",
    "\x85",
]
FRAGMENTS = st.sampled_from([*(HOME + SEASON + PARTNER).splitlines(keepends=True), *ODDITIES])
settings.register_profile("inputs", derandomize=True, max_examples=150, deadline=None)
inputs_profile = settings.get_profile("inputs")


@settings(inputs_profile)
@given(st.text(max_size=300))
def test_any_text(text: str) -> None:
    consume(text.encode("utf-8", "surrogatepass"))


@settings(inputs_profile)
@given(st.binary(max_size=300))
def test_any_bytes(raw: bytes) -> None:
    consume(raw)


@settings(inputs_profile)
@given(st.lists(FRAGMENTS, max_size=40))
def test_any_fragments(parts: list[str]) -> None:
    consume("".join(parts).encode())


@settings(inputs_profile)
@given(st.sampled_from([HOME, SEASON, PARTNER]), st.integers(0, 2000), st.integers(0, 40), st.text(max_size=8))
def test_mutated_files(text: str, start: int, length: int, new: str) -> None:
    start %= len(text)
    consume((text[:start] + new + text[start + length :]).encode("utf-8", "surrogatepass"))


LEAVES = st.sampled_from(
    ["", "1", "-1", "1,8", "1e9", "x", "QF4LUM", "3cm", "18:00", "2027-03", "always", "true", "mon"]
)
TREES = st.recursive(LEAVES, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(LEAVES, inner, max_size=3))
KEYS = ["call", "home", "band", "months", "dates", "partners", "operators", "policy", "report", "letters", "ephemeris"]
KEYS += ["position", "time_zone", "horizon", "mount", "available", "unavailable_dates", "landmarks", "battery", "bands"]


@settings(inputs_profile)
@given(st.dictionaries(st.sampled_from(KEYS), TREES, max_size=6))
def test_any_shape_under_known_keys(data: dict[str, object]) -> None:
    from pipeline.inputs.yaml_tree import Tree

    tree = Tree("file.yaml", data, {(): 1})
    for read in (read_station(tree), read_season(tree)):
        assert all(fault.line == 1 for fault in read.faults)


@settings(inputs_profile, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sampled_from(["qm7tor", "qf4lum", "season"]), st.lists(FRAGMENTS, min_size=1, max_size=3), st.integers(0, 60))
def test_a_folder_with_lines_thrown_in(tmp_path: Path, stem: str, lines: list[str], at: int) -> None:
    text = {"qm7tor": HOME, "qf4lum": PARTNER, "season": SEASON}[stem].splitlines(keepends=True)
    at %= len(text) + 1
    changed = "".join([*text[:at], *lines, *text[at:]])
    with suppress(InputFaults):
        read_inputs(lay_out(tmp_path, **{stem: changed}))


@settings(inputs_profile, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.text(max_size=200)
    | st.lists(
        st.sampled_from(
            ["call", "QX6ICE", "position.locator", "JP99hw", ",", ";", "\n", '"', ".", "bands.3cm.power_w"]
        ),
        max_size=30,
    ).map("".join)
)
def test_any_roster(tmp_path: Path, text: str) -> None:
    roster, folder = tmp_path / "roster.csv", tmp_path / "stations"
    roster.write_bytes(text.encode("utf-8", "surrogatepass"))
    folder.mkdir(exist_ok=True)
    with suppress(InputFaults):
        for path in import_roster(roster, folder):
            path.unlink()
    assert list(folder.iterdir()) == []
