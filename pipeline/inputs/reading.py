"""One season file and the station files beside it to `SeasonFiles`; all faults of all files are told in one go.

A file with a top-level `call` is a station, one with `home` a season; other seasons in the folder are left alone.
"""

from __future__ import annotations

import dataclasses
import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from pipeline.inputs import keys_said, own_writing, scalars, zones_said
from pipeline.inputs.entries_together import told_together
from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.letter_keys import Letters, Sender
from pipeline.inputs.locator import locator_of
from pipeline.inputs.mending import load_mended, without_twins
from pipeline.inputs.missing_years import with_years
from pipeline.inputs.model import Partner, Season, SeasonFiles, Station
from pipeline.inputs.modes import Mode, mode_table
from pipeline.inputs.near_names import SUFFIXES, is_copy, unread_files
from pipeline.inputs.season import SeasonRead, band_faults, complete_band, read_season, site_faults, standing
from pipeline.inputs.station import StationRead, read_station, with_band
from pipeline.inputs.terrain_notes import terrain_notes
from pipeline.inputs.what_if import Change, changed, hash_of, unknown_targets
from pipeline.inputs.yaml_tree import Tree, printable, read_bytes

# Keys that no station has.
OF_A_SEASON = {
    "title",
    "band",
    "frequency_mhz",
    "months",
    "dates",
    "partners",
    "operators",
    "policy",
    "letters",
    "report",
}
# A mode table of the user's own, beside the stations.
MODES_NAME = "modes.yaml"
# Keys in capitals of which so many are named in small letters.
MOST_SMALL = 6


@dataclass(frozen=True)
class SeasonFilesRead:
    """What reading gave: `files` is None where anything is wrong; the rest as far as it could be read."""

    files: SeasonFiles | None
    season: Season | None
    home_call: str
    calls: frozenset[str]
    faults: tuple[Fault, ...]


def read_season_files(season_file: Path, month: str | None = None, changes: Sequence[Change] = ()) -> SeasonFilesRead:
    """The season file and the stations of its folder, with every fault found.

    `month` (YYYY-MM) takes the place of the season's months and dates; `changes` are tried without touching a file.
    Raises InputFaults where there is no season file to read.
    """
    if not season_file.exists():
        advice = "--season names another, and the command `new FOLDER` lays one out"
        message = f"there is no season file {printable(str(season_file))}; {advice}."
        raise InputFaults([Fault(season_file.name, None, "", message)])
    faults: list[Fault] = []
    hashes: dict[str, str] = {}
    season_read: SeasonRead | None = None
    try:
        raw = read_bytes(season_file)
        hashes[season_file.name] = hashlib.sha256(raw).hexdigest()
        tree, shapes = load_mended(raw, season_file.name, season_file.parent)
        faults += shapes
        if tree is not None:
            season_read = read_season(changed(season_tree(tree), changes), month)
            faults += without_twins(shapes, season_read.faults)
    except InputFaults as found:
        faults += found.faults
        if not season_file.is_file():
            raise
    band = season_read.season.band if season_read and season_read.season else ""
    reads, broken = station_files(season_file, faults, hashes, changes, band)
    faults += unknown_targets(changes, [call_of(read) for read in reads])
    for read in reads:
        faults += read.faults
    home = find_home(season_read, reads, broken, faults) if season_read else None
    chosen = find_partners(season_read, home, reads, broken, faults) if season_read else []
    if season_read and home:
        faults += [*band_faults(season_read, home.station), *site_faults(season_read, home.station)]
    modes = user_modes(season_file.parent, faults, hashes)
    season = season_read.season if season_read else None
    calls = frozenset(call_of(read) for read in reads)
    if season_read:
        trees = {tree.file: tree for tree in (season_read.tree, *(read.tree for read in reads))}
        faults = told_together(with_years(faults, season_read.tree, trees), trees)
    files = None
    if not faults and season_read and season and home and home.station:
        files = assemble(season_read.tree, season, home, chosen, hashes, season_read.files)
        counted = {home.station.call, *(partner.call for partner in files.partners)}
        others = {read.station.call: read.station for read in reads if read.station}
        left_out = sorted(calls - counted)
        files = dataclasses.replace(
            files,
            modes=modes,
            files=files.files | hash_of(changes),
            left_out=tuple(left_out),
            left_out_fields=tuple(field_of(others[call]) if call in others else "" for call in left_out),
            others=tuple(with_band(others[call], files.season.band) for call in left_out if call in others),
        )
    return SeasonFilesRead(files, season, call_of(home) if home else "", calls, tuple(faults))


def field_of(station: Station) -> str:
    """The locator field in which a station stands, such as GF."""
    return locator_of(station.position.latitude_deg, station.position.longitude_deg, 2)


def user_modes(folder: Path, faults: list[Fault], hashes: dict[str, str]) -> tuple[Mode, ...]:
    """The folder's own mode table where there is one, else ours."""
    file = folder / MODES_NAME
    if not file.is_file():
        return mode_table()
    try:
        hashes[file.name] = hashlib.sha256(read_bytes(file)).hexdigest()
        return mode_table(file)
    except InputFaults as found:
        faults += found.faults
        return ()


def season_tree(tree: Tree) -> Tree:
    """The season file's tree; a fault where it is another kind of file."""
    if "home" not in tree.data and "call" in tree.data and set(tree.data) & OF_A_SEASON:
        message = f"a season names its home station; write `home: {printable(str(tree.data['call']), 20)}` for `call`."
        raise InputFaults([Fault(tree.file, tree.line(("call",)), "home", message)])
    if "home" not in tree.data and "call" in tree.data:
        message = "this is a station file (it has `call`); a season file has `home: CALL`. Give it with --season."
        raise InputFaults([Fault(tree.file, tree.line(("call",)), "home", message)])
    return tree


def station_files(
    season_file: Path, faults: list[Fault], hashes: dict[str, str], changes: Sequence[Change] = (), band: str = ""
) -> tuple[list[StationRead], set[str]]:
    """All stations of the season's folder, in the order of their file names; broken files add to the faults.

    The second result names what broken files seem to hold, their calls and stems, so that nobody is told besides that
    such a station has no file.
    """
    reads = []
    broken: set[str] = set()
    for path in folder_files(season_file.parent):
        if path.name in (season_file.name, MODES_NAME):
            continue
        try:
            raw = read_bytes(path)
            mended, shapes = load_mended(raw, path.name, path.parent)
        except InputFaults as found:
            mended, shapes = None, list(found.faults)
        faults += shapes
        if mended is None:
            broken |= {path.stem.casefold(), *calls_in_broken(path)}
            continue
        tree = changed(mended, changes, band)
        if "call" in tree.data and "home" in tree.data:
            message = "the file has both `call` and `home`; a station has `call`, a season has `home`."
            faults.append(tree.fault(("home",), message))
        elif "call" in tree.data:
            hashes[path.name] = hashlib.sha256(raw).hexdigest()
            read = read_station(tree)
            reads.append(dataclasses.replace(read, faults=without_twins(shapes, read.faults)))
            near = scalars.call_inside(call_of(read))
            broken |= {near.casefold()} if near and near != call_of(read) else set()
        elif "home" not in tree.data:
            faults.append(neither(tree))
            broken |= {str(tree.data[near]).casefold()} if (near := key_by_name(tree, "call")) else set()
    return reads, broken


def neither(tree: Tree) -> Fault:
    """The fault of a file that is no station and no season."""
    advice, line = "add one or move the file away.", 1
    for key in ("call", "home"):
        near = key_by_name(tree, key)
        if near:
            advice, line = f"did you mean `{key}` by '{printable(near)}'?", tree.line((near,)) or 1
            others = [name for name in tree.data if name != name.casefold()]
            if near.casefold() == key and len(others) > 1:
                small = ", ".join(printable(name.casefold()) for name in others[1:MOST_SMALL])
                advice = f"keys are written small: write `{key}`, and so in every line: {small} ..."
            break
    return Fault(tree.file, line, "call", f"the file has neither `call` (a station) nor `home` (a season); {advice}")


def key_by_name(tree: Tree, key: str) -> str | None:
    """The key of a file that most likely stands for another."""
    meant = (name for name in tree.data if key in keys_said.keys_meant(name))
    return next(meant, None) or scalars.nearest(key, tree.data)


def calls_in_broken(path: Path) -> set[str]:
    """The calls that stand at the beginning of lines in a file that is no valid YAML, in small letters."""
    try:
        text = read_bytes(path).decode("utf-8", "replace")
    except InputFaults:
        return set()
    return {found.casefold() for found in re.findall(r"^call:[ \t]*['\"]?([A-Za-z0-9/]+)", text, re.MULTILINE)}


def folder_files(folder: Path) -> list[Path]:
    """The YAML files of a folder itself, hidden ones left out, sorted by name."""
    try:
        paths = [path for path in folder.iterdir() if path.suffix.lower() in SUFFIXES and not path.name.startswith(".")]
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        raise InputFaults([Fault(str(folder), None, "", f"the folder cannot be read ({reason}).")]) from None
    return sorted(path for path in paths if path.is_file())


def call_of(read: StationRead) -> str:
    """The call a file gives, even where the rest of it is at fault."""
    value = read.tree.data.get("call")
    return value.upper() if isinstance(value, str) else ""


def stem_of(read: StationRead) -> str:
    """The file's name without its ending."""
    return Path(read.tree.file).stem


def find_home(
    season_read: SeasonRead, reads: list[StationRead], broken: set[str], faults: list[Fault]
) -> StationRead | None:
    """The station that `home` names by file or by call.

    Duplicate calls are told here, since naming home by its file excuses those of home.
    """
    wanted = season_read.tree.data.get("home", "")
    wanted = wanted if isinstance(wanted, str) else ""
    by_stem = [read for read in reads if stem_of(read) == wanted]
    by_call = [read for read in reads if call_of(read) == wanted.upper()]
    loosely = [read for read in reads if stem_of(read).casefold() == wanted.casefold()]
    home = next(iter(by_stem or by_call or loosely), None) if wanted else None
    excused = call_of(home) if home and home in by_stem else None
    note_duplicates(reads, excused, faults)
    if home is None:
        told = any(fault.field == "home" for fault in season_read.faults)
        if wanted and not told and not broken:
            stem = re.sub(r"\.ya?ml$", "", re.split(r"[/\\]", wanted)[-1], flags=re.IGNORECASE)
            named = stem != wanted and any(stem_of(read).casefold() == stem.casefold() for read in reads)
            beside = unread_advice(season_read.tree.folder, wanted.upper()) or calls_advice(wanted, reads)
            advice = f"write `home: {stem}`, without folder and ending." if named else beside
            message = f"home is '{printable(wanted)}', but no file in this folder has that call; {advice}"
            faults.append(season_read.tree.fault(("home",), message))
        return None
    told = any("'time_zone'" in fault.message for fault in home.faults)
    if home.tree.data.get("time_zone", "") == "" and not told:
        where = own_writing.place_of(home.tree)
        zone = zones_said.zone_of(*where) if where else "America/Montevideo"
        message = f"time_zone is missing; the home station needs one, for instance `time_zone: {zone}`."
        faults.append(Fault(home.tree.file, home.tree.line(("call",)), "time_zone", message))
    return home


def calls_advice(wanted: str, reads: list[StationRead]) -> str:
    """Which calls there are, the nearest first."""
    calls = sorted({printable(call_of(read), 20) for read in reads if call_of(read)})
    if not calls:
        return "there is no station file yet."
    near = next((call_of(read) for read in reads if is_called(read, wanted)), None) or scalars.nearest(wanted, calls)
    known = ", ".join(calls[:12]) + (", ..." if len(calls) > 12 else "")
    return f"did you mean '{near}'?" if near else f"there {'is' if len(calls) == 1 else 'are'} {known}."


def is_called(read: StationRead, name: str) -> bool:
    """Whether a station or its operator has that name."""
    own = {str(read.tree.data.get(key, "")).casefold() for key in ("name", "operator")}
    return bool(name) and name.casefold() in own and bool(call_of(read))


def unread_advice(folder: Path, call: str) -> str:
    """Where a file of that call lies that its name keeps from being read; empty where there is none."""
    for one in unread_files(folder):
        if call in (one.call, Path(one.better).stem.upper()) and one.kind == "call":
            return f"{one.path.relative_to(folder).as_posix()} has it, but {one.advice}."
    return ""


def note_duplicates(reads: list[StationRead], excused: str | None, faults: list[Fault]) -> None:
    """One call in two files, unless home is named by its file."""
    first: dict[str, StationRead] = {}
    for read in reads:
        call = call_of(read)
        known = first.setdefault(call, read)
        if call and known is not read and call != excused:
            message = (
                f"the call {printable(call)} stands in {known.tree.file} as well; keep one of the files "
                f"(or, for two sites of home, name one by its file: `home: {stem_of(read)}`)."
            )
            copies = [one.tree.file for one in (read, known) if is_copy(stem_of(one))]
            if copies:
                other = known.tree.file if copies[0] == read.tree.file else read.tree.file
                message = (
                    f"the call {printable(call)} stands in {known.tree.file} as well; {copies[0]} looks like a stray "
                    f"copy: keep {other}, and take the copy out of the folder or give it a call of its own."
                )
            faults.append(read.tree.fault(("call",), message))


def find_partners(
    season_read: SeasonRead, home: StationRead | None, reads: list[StationRead], broken: set[str], faults: list[Fault]
) -> list[tuple[Partner, StationRead]]:
    """The season's wishes with their stations; every other station, sorted by call, where it lists none."""
    season = season_read.season
    if season is None or home is None:
        return []
    others = {call_of(read): read for read in reads if call_of(read) != call_of(home)}
    if season.partners is None:
        return [(Partner(call=call), others[call]) for call in sorted(others) if others[call].station]
    chosen = []
    tree = season_read.tree
    for index, wish in enumerate(season.partners):
        place = ("partners", index)
        if wish.call == call_of(home):
            message = f"the partner {wish.call} is the home station; take it out of the list."
            faults.append(tree.fault(place, message))
        elif wish.call not in others and wish.call.casefold() in broken:
            continue
        elif wish.call not in others:
            advice = unread_advice(tree.folder, wish.call) or calls_advice(wish.call, list(others.values()))
            message = f"the partner {wish.call} has no file in this folder; {advice}"
            faults.append(Fault(tree.file, tree.line(place), f"partners.{index + 1}.call", message))
        else:
            chosen.append((wish, others[wish.call]))
    return chosen


def signed(letters: Letters, home: Station) -> Letters:
    """The letters with who signs them: home's operator where the season names nobody."""
    if letters.sender is not None or not home.email:
        return letters
    sender = Sender(name=home.operator or home.call, email=home.email)
    return dataclasses.replace(letters, sender=sender)


def assemble(
    tree: Tree,
    season: Season,
    home: StationRead,
    chosen: list[tuple[Partner, StationRead]],
    hashes: dict[str, str],
    named: dict[str, str],
) -> SeasonFiles:
    """The whole, once nothing is wrong: bands completed, and only the files hashed that the run depends on.

    `named` are the hashes of files that the season names.
    """
    assert home.station is not None
    season = complete_band(season, home.station)
    wishes = tuple(wish for wish, _ in chosen)
    bands = {season.band} | {wish.band for wish in wishes if wish.band}
    home_station = standing(home.station, season)
    for band in sorted(bands):
        home_station = with_band(home_station, band)
    partners: list[Station] = []
    files = {name: hashes[name] for name in (tree.file, MODES_NAME) if name in hashes} | named
    for wish, read in [(None, home), *chosen]:
        files |= {read.tree.file: hashes[read.tree.file]} | read.files
        if wish is not None and read.station is not None:
            partners.append(with_band(read.station, wish.band or season.band))
    return SeasonFiles(
        season=dataclasses.replace(season, home=home_station.call, letters=signed(season.letters, home_station)),
        home=home_station,
        partners=tuple(partners),
        wishes=wishes,
        files=files,
        warnings=tuple(note for station in (home_station, *partners) for note in terrain_notes(station)),
    )
