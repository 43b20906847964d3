"""The shipped model with a shop's own words: the same network, a new graph.

Words come from the shop's phrase files (the form that `language.phrasebook.extend` reads) and from
the names in its `shop.yaml`. A word is said as the phrase file's `pronunciations` tell, or as the
dictionary in the pocketsphinx package does. There is no guessing: English spelling doesn't tell
how a made-up name is said, and a wrong guess would never be heard.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any, Final

from filelock import FileLock

from assistant import packaged
from assistant.acoustics.graph import Prices, build_graph
from assistant.acoustics.phones import CLASS, Dictionary, with_more
from assistant.acoustics.vocabulary import dictionary, vocabulary
from assistant.engines import SHIPPED_MODEL
from assistant.errors import BadFile, BadInput, Finding
from assistant.hearing.engines.pair import OWN_WORDS
from assistant.language.book import Phrasebook, parts
from assistant.language.expression import normalize
from assistant.language.located import Located, read_yaml
from assistant.language.phrasebook import extend
from assistant.people import SHOP_FILE, load_shop
from assistant.small_files import read_small

_NAME: Final = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9._-]{0,58}[A-Za-z0-9_-])?", re.ASCII)
# Names that Windows keeps for devices, from memory.
_DEVICE: Final = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.ASCII | re.IGNORECASE)
_LARGEST: Final = 1_000_000


@dataclass(frozen=True, slots=True)
class _Wanted:
    """A word, and where a person wrote it."""

    word: str
    file: Located
    path: tuple[str | int, ...]

    def finding(self, code: str, message: str) -> Finding:
        return self.file.finding(code, message, self.path)


def build_model(
    name: str, models: Path, phrases: Sequence[Path], home: Path, *, replace: bool = False
) -> tuple[Path, Dictionary]:
    """Write a model into the models folder.

    Args:
        name: of the new model.
        models: where models are kept.
        phrases: the shop's phrase files.
        home: folder of `shop.yaml`, which may be missing.
        replace: whether a model of this name may be overwritten.

    Returns:
        Its folder, and the words that the shop wrote with their pronunciations.

    Raises:
        BadFile: a file is wrong, or a word in it has no pronunciation; with lines.
        BadInput: the name can't be used, a file can't be read, or a tool is missing.
    """
    ours = name.endswith((".making", ".unpacking", ".lock", ".part"))
    if not _NAME.fullmatch(name) or _DEVICE.fullmatch(name) or ours:
        raise BadInput(f"{name!r} is no name for a model: use letters, figures, . _ and -")
    known, own = own_words(phrases, home)
    folder = models / name
    try:
        models.mkdir(parents=True, exist_ok=True)
        with FileLock(models / f"{name}.lock"):
            _build(folder, known, own, replace=replace)
    except OSError as problem:
        raise BadInput(f"{folder}: can't be built there: {problem}") from problem
    return folder, own


def _build(folder: Path, known: Dictionary, own: Dictionary, *, replace: bool) -> None:
    """Build beside the place, then take it; nothing is followed to where a link leads."""
    making = folder.with_name(f"{folder.name}.unpacking")
    for place in (folder, making):
        if place.is_symlink():
            raise BadInput(f"{place}: is a link; a model is built in a folder of its own")
    if folder.exists() and not (replace and (folder / OWN_WORDS).is_file()):
        what = "--replace builds it anew" if (folder / OWN_WORDS).is_file() else "not built here"
        raise BadInput(f"{folder}: is here already ({what})")
    shutil.rmtree(making, ignore_errors=True)
    for part in ("am", "conf"):
        shutil.copytree(_shipped() / part, making / part)
    build_graph(making / "graph", vocabulary(known, own), known, Prices())
    (making / OWN_WORDS).write_text("".join(_lines(own)), encoding="utf-8")
    shutil.rmtree(folder, ignore_errors=True)
    making.rename(folder)


def _shipped() -> Path:
    return Path(str(files("assistant.hearing"))) / "data" / "models" / SHIPPED_MODEL


def own_words(phrases: Sequence[Path], home: Path) -> tuple[Dictionary, Dictionary]:
    """Every word that could be listed, and those that the shop wrote.

    Raises:
        BadFile: see `build_model`.
        BadInput: a file can't be read.
    """
    book = packaged.phrasebook("en")
    wanted: list[_Wanted] = []
    for path in phrases:
        text = read_small(path, _LARGEST, "a file of phrases")
        book = extend(book, text, str(path))
        wanted += _of_phrases(read_yaml(text, str(path)))
    wanted += _of_shop(home)
    known = with_more(dictionary(), book.pronunciations)
    if findings := [*_bad_phones(wanted, book), *_unknown(wanted, known)]:
        raise BadFile(tuple(sorted(findings, key=lambda each: (each.file, each.line))))
    return known, {each.word: known[each.word] for each in wanted}


def _of_phrases(file: Located) -> Iterator[_Wanted]:
    """The words of a file that `extend` has taken, so its form is right."""
    value: Any = file.value
    for intent, phrases in value.get("intents", {}).items():
        for number, phrase in enumerate(phrases):
            for word in (part for part in parts(phrase) if isinstance(part, str)):
                yield _Wanted(word, file, ("intents", intent, number))
    for slot, table in value.get("slots", {}).items():
        for canonical, ways in table.items():
            for number, way in enumerate(ways):
                for word in normalize(way):
                    yield _Wanted(word, file, ("slots", slot, canonical, number))
    for word in value.get("pronunciations", {}):
        yield _Wanted(normalize(word)[0], file, ("pronunciations", word))


def _of_shop(home: Path) -> Iterator[_Wanted]:
    """The names that are called out: of people and of torque wrenches."""
    shop = load_shop(home)
    if not shop.roster and not shop.wrenches:
        return
    file = read_yaml((home / SHOP_FILE).read_text(encoding="utf-8"), str(home / SHOP_FILE))
    for person, name in shop.roster.items():
        for word in normalize(name):
            yield _Wanted(word, file, ("roster", person))
    for number, wrench in enumerate(shop.wrenches):
        for word in normalize(wrench.name):
            yield _Wanted(word, file, ("wrenches", number))


def _bad_phones(wanted: Iterable[_Wanted], book: Phrasebook) -> Iterator[Finding]:
    for each in wanted:
        if each.path[0] != "pronunciations":
            continue
        for way in book.pronunciations[str(each.path[1])]:
            if wrong := [phone for phone in way.split() if phone not in CLASS]:
                message = f'"{each.word}": {wrong[0]} is no ARPABET phone; one of {" ".join(CLASS)}'
                yield each.finding("phone", message)


def _unknown(wanted: Iterable[_Wanted], known: Dictionary) -> Iterator[Finding]:
    for each in wanted:
        if each.word not in known:
            message = (
                f'no dictionary says how "{each.word}" is said; write it into a phrase file, under '
                f"pronunciations:, like {each.word}: [JH UW L IY EH T]"
            )
            yield each.finding("pronunciation", message)


def _lines(own: Dictionary) -> Iterator[str]:
    for word, ways in sorted(own.items()):
        for number, way in enumerate(ways, start=1):
            entry = word if number == 1 else f"{word}({number})"
            yield f"{entry} {' '.join(way)}\n"
