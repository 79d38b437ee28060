"""Many documents to PDF at once: unchanged ones are taken from the last run, the rest share the processor's cores.

A document is known by the hash of its HTML, the fonts and the renderer's version; `rendered.json` in the period's
folder says which file was made from which, and the file's own hash proves that it still is that file.
"""

from __future__ import annotations

import datetime as dt
import gc
import hashlib
import json
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from pipeline.inputs.atomic_writing import write_file
from pipeline.inputs.bounds import OWN
from pipeline.reports import pdf
from pipeline.reports.blocked import told_in_a_sentence
from pipeline.reports.places import fonts_folder
from pipeline.wording import formats

INDEX = "rendered.json"
# Letters of pages that a process has to have for itself, three or four seconds of work: its start costs near one.
LETTERS_A_PROCESS = 400_000
# What is left lying of so many letters of pages is some tens of MB; to look for it behind each costs a twentieth.
LETTERS_A_COLLECTION = 1_000_000
# What decides a PDF's bytes beside its HTML.
RENDERERS = ("weasyprint", "pydyf", "fonttools", "tinycss2", "tinyhtml5")


@dataclass(frozen=True)
class Document:
    """One PDF to be: its HTML, the date and number that stand for clock and chance, and what must come out."""

    html: str
    dated: dt.date
    identifier: str
    least_pages: int
    last_bookmark: str

    @property
    def key(self) -> str:
        """Hash over everything that the PDF's bytes follow from; raises PdfUnavailable where no engine is there."""
        parts = (
            # Fonts count by their bytes, wherever this program was installed.
            self.html.replace(fonts_folder().as_uri(), ""),
            str(self.dated),
            self.identifier,
            str(self.least_pages),
            self.last_bookmark,
            _renderer(pdf.engine()),
        )
        return hashlib.sha256("\0".join(parts).encode()).hexdigest()


@cache
def _renderer(engine: pdf.Engine) -> str:
    """The engine's versions and the fonts' contents, as one text."""
    versions = [] if engine.program is None else [engine.name]
    for name in RENDERERS if engine.program is None else ():
        try:
            versions.append(f"{name} {version(name)}")
        except PackageNotFoundError:
            continue
    fonts = [hashlib.sha256(file.read_bytes()).hexdigest() for file in sorted(fonts_folder().glob("**/*.otf"))]
    return " ".join([*versions, *fonts])


def render_documents(
    documents: Mapping[str, Document],
    folder: Path,
    workers: int | None = None,
    progress: Callable[[str], None] | None = None,
) -> dict[str, bytes]:
    """The PDF of each document by its path under `folder`, in the order given.

    `workers` processes share them, the longest first: as many as there are cores, one where that is little work.
    Raises what `pdf.render` raises.
    """
    known = {path: content for path, one in documents.items() if (content := _unchanged(one, folder, path)) is not None}
    wanting = sorted((path for path in documents if path not in known), key=lambda path: -len(documents[path].html))
    if wanting and progress is not None:
        progress(f"{formats.count(len(wanting), 'PDF')}")
    workers = min(workers or _processes_for(sum(len(documents[path].html) for path in wanting)), len(wanting))
    if workers > 1:
        made = dict(zip(wanting, _shared_out([documents[path] for path in wanting], workers), strict=True))
    else:
        made = dict(zip(wanting, _in_turn([documents[path] for path in wanting]), strict=True))
    return {path: known.get(path) or made[path] for path in documents}


def _processes_for(letters: int) -> int:
    """How many processes pages of so many letters are worth."""
    return max(min(os.cpu_count() or 1, letters // LETTERS_A_PROCESS), 1)


def _in_turn(documents: list[Document]) -> list[bytes]:
    """The PDFs in their order, by this process alone."""
    made, letters = [], 0
    with pdf.collector_off():
        for one in documents:
            made.append(render_document(one))
            letters += len(one.html)
            if letters >= LETTERS_A_COLLECTION:
                gc.collect()
                letters = 0
    return made


def _shared_out(documents: list[Document], workers: int) -> list[bytes]:
    """The PDFs in their order, by so many processes, this one among them; each more costs a start of the engine.

    None is left running when one fails or somebody stops us.
    """
    # Spawned, not forked: fonts and Pango keep threads and handles that a fork would share.
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(workers - 1, mp_context=context, initializer=end_with_parent) as pool:
        try:
            given = [pool.submit(render_document, one) for one in documents[1:]]
            own = {0: render_document(documents[0])}
            # What nobody has begun by now, from the end on.
            for place in reversed(range(1, len(documents))):
                if given[place - 1].cancel():
                    own[place] = render_document(documents[place])
            return [own[place] if place in own else given[place - 1].result() for place in range(len(documents))]
        except BaseException:
            # A page takes seconds: nobody waits for those that nobody wants any more.
            for child in list(getattr(pool, "_processes", {}).values()):
                child.terminate()
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def end_with_parent() -> None:
    """Makes a process of ours end by itself once the one that started it is gone; Ctrl-C is that one's to answer."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()

    def watch() -> None:
        if parent is not None:
            parent.join()
            os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


def render_document(document: Document) -> bytes:
    """The PDF of one document."""
    return pdf.render(document.html, document.dated, document.identifier, document.least_pages, document.last_bookmark)


def _unchanged(document: Document, folder: Path, path: str) -> bytes | None:
    """The file of an earlier run, where it was made from the same and nobody has touched it since."""
    entry = _index(folder).get(path)
    if not isinstance(entry, dict) or entry.get("made_from") != document.key:
        return None
    try:
        content = (folder / path).read_bytes()
    except OSError:
        return None
    return content if hashlib.sha256(content).hexdigest() == entry.get("sha256") else None


def _index(folder: Path) -> dict[str, object]:
    """What the last run noted; nothing where there is no such file, too large or spoiled: then all is rendered anew."""
    try:
        found = json.loads(OWN.read(folder / INDEX))
    except (OSError, ValueError, RecursionError):
        return {}
    return found if isinstance(found, dict) else {}


def _stands(folder: Path, path: str) -> bool:
    """Whether there is such a file; a name that no disk takes is none's."""
    try:
        return (folder / path).is_file()
    except (OSError, ValueError):
        return False


def note_rendered(documents: Mapping[str, Document], contents: Mapping[str, bytes], folder: Path) -> None:
    """Write down what was made from what, after the files stand; entries of files that are gone are dropped."""
    index = {path: entry for path, entry in _index(folder).items() if _stands(folder, path)}
    for path, document in documents.items():
        index[path] = {"made_from": document.key, "sha256": hashlib.sha256(contents[path]).hexdigest()}
    fresh = folder / f"{INDEX}.new"
    with told_in_a_sentence(folder):
        write_file(fresh, (json.dumps(index, indent=1, sort_keys=True) + "\n").encode())
        fresh.replace(folder / INDEX)
