"""Points of a skyline into a station's file, or into the survey that it names: other lines and comments stay.

The new text is read back before it counts, and a file changes whole or not.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

from pipeline.inputs import scalars
from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.model import Station
from pipeline.inputs.station import read_station
from pipeline.inputs.survey_table import bare_figure, mark_of
from pipeline.inputs.yaml_tree import decode, load_tree, read_bytes
from pipeline.record.skyline_points import SkylinePoint, apart_deg
from pipeline.record.writing import line_break, write_whole

HORIZON, POINTS, SURVEY = "horizon", "points", "file"
# Behind a point that nobody measured: it keeps the line of before, or the guess where there was none.
KEPT, GUESSED = "# as it stood", "# a guess"
BOM = "\ufeff"
Write = Callable[[SkylinePoint], str]


@dataclass(frozen=True)
class NewSkyline:
    """The file that holds a station's skyline, with other points in it, ready to be written."""

    path: Path
    text: str


@dataclass(frozen=True)
class _Row:
    """A point as it stands in a file: its lines, both included, and where on the last its elevation is written."""

    point: SkylinePoint
    first: int
    last: int
    elevation: tuple[int, int, int]


@dataclass(frozen=True)
class _Held:
    """A file with points, each on lines of its own; `after` is the line behind which they stand where none is left."""

    path: Path
    text: str
    bom: str
    rows: tuple[_Row, ...]
    after: int
    write: Write


def standing_points(station: Station, folder: Path) -> list[SkylinePoint]:
    """The points that the station's file, or its survey, states; terrain is none. Raises InputFaults."""
    _require_own_place(station)
    held = _held(station, folder)
    if held is not None:
        return [row.point for row in held.rows]
    text = _text(folder / station.file)[0]
    points = _points_node(text)
    lines = text.split("\n")
    return [] if points is None else [_row(node, lines).point for node in points.value]


def with_points(station: Station, folder: Path, points: Sequence[SkylinePoint], remark: str) -> NewSkyline:
    """The file with exactly these points; nothing is written. `remark` is a comment above a skyline that is new.

    Raises InputFaults where the file cannot be changed safely.
    """
    _require_own_place(station)
    held = _held(station, folder)
    if held is not None:
        path, bom, new = held.path, held.bom, _edited(held, points)
    else:
        path = folder / station.file
        text, bom = _text(path)
        new = _stated_anew(text, points, remark)
    if path.name == station.file:
        _require_same(station, folder, new, points)
    return NewSkyline(path, bom + new)


def _require_own_place(station: Station) -> None:
    """A fault where the station stands at another site: the horizon of its file is that of its own place."""
    if station.sites and station.title != station.sites[0].name:
        here = f"sites.{station.title}.{HORIZON}"
        message = f"{station.call} stands at {station.title} in this season; write its heights into {here} by hand."
        raise InputFaults([Fault(station.file, None, here, message)])


def write_skyline(new: NewSkyline) -> None:
    """Put the file in place, whole or not at all."""
    write_whole(new.path, new.text)


def point_words(point: SkylinePoint) -> str:
    """`{azimuth_deg: 95, elevation_deg: 7.5}`."""
    return f"{{azimuth_deg: {point.azimuth_deg:g}, elevation_deg: {point.elevation_deg:g}}}"


def listed_point(point: SkylinePoint) -> str:
    """A line of the list."""
    return f"  - {point_words(point)}{f'  {KEPT}' if point.kept else ''}"


def _text(path: Path) -> tuple[str, str]:
    """A file's text without its byte order mark, and the mark where it has one."""
    raw = read_bytes(path)
    return decode(raw, path.name), BOM if raw.startswith(BOM.encode()) else ""


def _stated_anew(text: str, points: Sequence[SkylinePoint], remark: str) -> str:
    """The station's text with these points where it has none, or has them in brackets."""
    entry = _horizon_entry(text)
    value = None if entry is None else entry[1]
    if not isinstance(value, yaml.MappingNode):
        listed = [listed_point(one).replace(KEPT, GUESSED) for one in points]
        return with_horizon(text, [f"# {remark}", f"{HORIZON}:", *listed])
    flat = f"[{', '.join(map(point_words, points))}]"
    node = _points_node(text)
    if node is not None:
        return text[: node.start_mark.index] + flat + text[node.end_mark.index :]
    if value.flow_style:
        end = value.end_mark.index - 1
        return f"{text[:end].rstrip()}, {POINTS}: {flat}{text[end:]}"
    eol, column = line_break(text), value.start_mark.column
    lines = [f"{' ' * column}{POINTS}:", *(f"{' ' * column}{listed_point(one)}" for one in points)]
    end = text.find("\n", max(one.end_mark.index for _, one in value.value))
    head, rest = (text[:end], text[end:]) if end >= 0 else (text, "\n")
    return head.removesuffix("\r") + eol + eol.join(lines) + ("\r" if eol == "\r\n" else "") + rest


def with_horizon(text: str, lines: Sequence[str]) -> str:
    """The text with these lines at its end, or in place of a `horizon` that is empty or written in brackets."""
    eol = line_break(text)
    entry = _horizon_entry(text)
    block = eol.join(lines)
    if entry is None:
        return text + ("" if text.endswith("\n") else eol) + block + eol
    key, value = entry
    if isinstance(value, yaml.ScalarNode):
        # An empty value: only its key stands there.
        start = key.start_mark.index
        end = text.find("\n", start)
        rest = text[end:] if end >= 0 else eol
        return text[:start] + block + ("\r" if eol == "\r\n" and end >= 0 else "") + rest
    return text[: key.start_mark.index] + block + text[value.end_mark.index :]


def _horizon_entry(text: str) -> tuple[yaml.Node, yaml.Node] | None:
    root = yaml.compose(text, Loader=yaml.BaseLoader)
    entries = root.value if isinstance(root, yaml.MappingNode) else []
    return next(((key, value) for key, value in entries if key.value == HORIZON), None)


def _points_node(text: str) -> yaml.SequenceNode | None:
    """The list of points that a station's text states, by itself or beside terrain."""
    entry = _horizon_entry(text)
    value = None if entry is None else entry[1]
    if isinstance(value, yaml.MappingNode):
        value = next((one for key, one in value.value if key.value == POINTS), None)
    return value if isinstance(value, yaml.SequenceNode) else None


def _held(station: Station, folder: Path) -> _Held | None:
    """The file line by line; None where it has no points, or has them in brackets."""
    path = folder / station.file
    text, bom = _text(path)
    entry = _horizon_entry(text)
    if entry is not None and isinstance(entry[1], yaml.MappingNode):
        survey = next((one for key, one in entry[1].value if key.value == SURVEY), None)
        if survey is not None:
            return _survey(folder / survey.value)
    value = _points_node(text)
    if value is None or value.flow_style or not value.value:
        return None
    lines = text.split("\n")
    rows = tuple(_row(node, lines) for node in value.value)
    indent = " " * (value.value[0].start_mark.column - 2)
    return _Held(path, text, bom, rows, rows[0].first - 1, lambda point: f"{indent}{listed_point(point).strip()}")


def _row(node: yaml.Node, lines: Sequence[str]) -> _Row:
    values = {key.value: value for key, value in node.value}
    azimuth, elevation = values["azimuth_deg"], values["elevation_deg"]
    last = max(value.end_mark.line for value in (azimuth, elevation))
    if getattr(node, "flow_style", False):
        last = node.end_mark.line
    point = SkylinePoint(
        scalars.number(azimuth.value),
        scalars.number(elevation.value),
        kept=lines[last].rstrip().endswith((KEPT, GUESSED)),
    )
    mark = elevation.start_mark
    return _Row(point, node.start_mark.line, last, (mark.line, mark.column, elevation.end_mark.column))


def _survey(path: Path) -> _Held:
    """A survey of two columns; the rows are those of the reader, which has taken the file already."""
    text, bom = _text(path)
    mark = mark_of(text)
    rows = []
    for number, line in enumerate(text.split("\n")[1:], 1):
        cells = line.split(mark)
        if line.strip(f"{mark} \r"):
            begin = len(cells[0]) + 1
            bare = (bare_figure(cell.strip().strip('"'), mark) for cell in cells[:2])
            azimuth, elevation = map(scalars.number, bare)
            point = SkylinePoint(azimuth, elevation)
            rows.append(_Row(point, number, number, (number, begin, len(line.rstrip("\r")))))
    return _Held(path, text, bom, tuple(rows), 0, lambda one: f"{one.azimuth_deg:g}{mark}{one.elevation_deg:g}")


def _edited(held: _Held, points: Sequence[SkylinePoint]) -> str:
    """The text with exactly these points: what stays is untouched, another height changes in place, new lines go in."""
    ending = "\r" if line_break(held.text) == "\r\n" else ""
    lines: list[str | None] = list(held.text.split("\n"))
    wanted, stays = list(points), []
    for row in held.rows:
        if row.point in wanted:
            wanted.remove(row.point)
            stays.append(row)
            continue
        same = [one for one in wanted if apart_deg(one.azimuth_deg, row.point.azimuth_deg) == 0.0 and not one.kept]
        if same and not row.point.kept:
            wanted.remove(same[0])
            stays.append(row)
            line, begin, end = row.elevation
            text = lines[line] or ""
            lines[line] = f"{text[:begin]}{same[0].elevation_deg:g}{text[end:]}"
            continue
        lines[row.first : row.last + 1] = [None] * (row.last + 1 - row.first)
    before: dict[int, list[str]] = {}
    for point in wanted:
        later = [row.first for row in stays if row.point.azimuth_deg > point.azimuth_deg]
        place = min(later) if later else max((row.last for row in stays), default=held.after) + 1
        before.setdefault(place, []).append(held.write(point) + ending)
    out: list[str] = []
    for number, kept in enumerate([*lines, None]):
        out += before.get(number, [])
        if kept is not None:
            out.append(kept)
    return "\n".join(out)


def _require_same(station: Station, folder: Path, text: str, points: Sequence[SkylinePoint]) -> None:
    """A fault where the text does not read as this station's with these points and nothing else changed."""
    path = folder / station.file
    try:
        new = load_tree(text.encode(), path.name, path.parent)
        sound = not read_station(new).faults
        others = [_without_points(one) for one in (new.data, load_tree(read_bytes(path), path.name).data)]
        node = _points_node(text)
        lines = text.split("\n")
        held = sorted(_pair(_row(one, lines).point) for one in (node.value if node is not None else ()))
    except (InputFaults, KeyError, scalars.Refusal):
        sound, others, held = False, [], []
    wanted = sorted(map(_pair, points))
    same = sound and others[0] == others[1] and len(held) == len(wanted)
    if same and all(_near(a, b) for a, b in zip(held, wanted, strict=True)):
        return
    flat = ", ".join(map(point_words, points))
    message = f"the file is laid out in an unusual way; change it by hand, the line is `horizon: [{flat}]`."
    raise InputFaults([Fault(path.name, None, HORIZON, message)])


def _without_points(data: Mapping[str, Any]) -> dict[str, Any]:
    """A file's keys but for its points; a horizon that holds nothing else is none."""
    horizon = data.get(HORIZON)
    keys = {key: one for key, one in horizon.items() if key != POINTS} if isinstance(horizon, dict) else {}
    return {key: one for key, one in data.items() if key != HORIZON} | ({HORIZON: keys} if keys else {})


def _pair(point: SkylinePoint) -> tuple[float, float]:
    return point.azimuth_deg, point.elevation_deg


def _near(one: tuple[float, float], other: tuple[float, float]) -> bool:
    return all(abs(a - b) < 1e-3 for a, b in zip(one, other, strict=True))
