"""The list of packs in its file.

In one module, of over 300 lines, what reads the file and what writes into it, since a draft is checked by reading it
anew.
"""

from __future__ import annotations

import os
import re
import stat
import tempfile
import tomllib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

from ampstead_client.client import AmpsteadClient
from ampstead_client.errors import NotInstalled
from ampstead_client.packs import fields, lines, reports
from ampstead_client.packs.entries import ListedPack, PackReading, kind_named, pack_of, reading_of
from ampstead_client.packs.faults import Fault, FaultyPacks, NoSuchPack, Tell, Wrong
from ampstead_client.quantity import Quantity, QuantityLike

if TYPE_CHECKING:
    from ampstead_client.packs.reports import Report

WANTED = 'writing into a list of packs needs more: pip install "ampstead-client[packs]"'
LOCK_WAIT = 20.0
"""s that a writer waits for another one."""
_UNQUOTED = re.compile(r"\s*([\w-]+)\s*=\s*([^\s\"'\[{#][^\"'#]*[^\W\d_][^\"'#]*?)\s*(#.*)?")


class PackList:
    """Packs by name or id, as a file has them: `PackList.load("packs.toml")["red trainer A"]`.

    Goes through its packs in the order of the file. It is a picture of the file at the time of loading; `log` and
    `add` write to the file, and take in what others wrote meanwhile.
    """

    def __init__(self, path: Path, text: str) -> None:
        self.path = path
        self._read(text)

    @classmethod
    def load(cls, path: str | os.PathLike[str]) -> Self:
        """The list in a file. Raises `FaultyPacks`, with line and cure of all that is wrong, or `OSError`."""
        return cls(Path(path), _text_of(Path(path)))

    def __getitem__(self, name: str) -> ListedPack:
        """A pack by its name or id, whatever the case of its letters. Raises `NoSuchPack`."""
        return self._packs[self._place(name)]

    def __contains__(self, name: object) -> bool:
        return isinstance(name, str) and name.strip().casefold() in self._places

    def __iter__(self) -> Iterator[ListedPack]:
        return iter(self._packs)

    def __len__(self) -> int:
        return len(self._packs)

    def __repr__(self) -> str:
        return f"<PackList of {len(self)} in {self.path.name}>"

    def log(
        self,
        name: str,
        *,
        date: date | str | None = None,
        temperature: QuantityLike | None = None,
        method: str | None = None,
        current: QuantityLike | None = None,
        **values: Any,
    ) -> tuple[PackReading, ...]:
        """Writes readings of a pack into the file: `packs.log("red trainer A", cell_resistance="9 mΩ", …)`.

        Each of `values` is a kind of reading with its value; all share day (today if not given), temperature and
        method. Nothing else in the file is touched, comments and unknown keys stay, and what others log at the same
        time stays too. Raises `FaultyPacks` for a value that is wrong, `NoSuchPack`, `OSError`.
        """
        shared = {"temperature": _plain(temperature), "method": method, "current": _plain(current)}
        if not values:
            raise FaultyPacks([Fault("", f"nothing to log: give one of {', '.join(fields.VALUES)}")])
        taken_on = _today() if date is None else date
        entries = [{"date": taken_on, "kind": kind, "value": _plain(value)} | shared for kind, value in values.items()]
        return self.log_all([(name, entry) for entry in entries])

    def log_all(self, entries: list[tuple[str, dict[str, Any]]]) -> tuple[PackReading, ...]:
        """Writes readings of any packs at once: all of them, or none if one is wrong."""
        readings: list[PackReading] = []
        with self.draft() as draft:
            faults: list[Fault] = []
            for name, entry in entries:
                place = self._place(name)
                told: list[str] = []
                try:
                    asked = {**entry, "kind": kind_named(entry["kind"])}
                    reading = reading_of(asked, self._packs[place].cells, _listener(told))
                except Wrong as wrong:
                    told.append(str(wrong))
                    continue
                finally:
                    faults += [Fault("", message) for message in told]
                if reading is not None and not told:
                    readings.append(reading)
                    draft.text = lines.with_reading(draft.text, place, written_reading(reading))
            if faults:
                raise FaultyPacks(faults)
        return tuple(readings)

    def add(self, name: str, **facts: Any) -> ListedPack:
        """Writes one more pack into the file: `packs.add("red trainer A", cells=3, capacity="2250 mAh")`.

        Its id is made of its name unless given. Raises `FaultyPacks`, `OSError`.
        """
        entry = {"id": slug(name), "name": name} | {key: _plain(value) for key, value in facts.items()}
        told: list[str] = [f"{key} is not known" for key in entry if key not in fields.PACK]
        pack = pack_of(entry, [], _listener(told))
        if pack is None or told:
            raise FaultyPacks(Fault("", message) for message in told)
        with self.draft() as draft:
            if taken := [key for key in (pack.id, pack.name) if key in self]:
                raise FaultyPacks([Fault("", f'the list has a pack "{taken[0]}" already: choose another name')])
            draft.text = lines.with_pack(draft.text, written_pack(pack))
        return self[pack.id]

    def report(self, client: AmpsteadClient | None = None, *, temperature: QuantityLike | None = None) -> Report:
        """Every pack judged by pack-fitness, worst first, with the trends of its readings.

        Asked of `client`, or else of the service in this process. `temperature` is that of the packs at take-off.
        Raises `NotInstalled`, and what a question may raise.
        """
        return reports.report(self._packs, client or AmpsteadClient.embedded(), temperature)

    def _place(self, name: str) -> int:
        try:
            return self._places[name.strip().casefold()]
        except KeyError:
            raise NoSuchPack(name, [pack.name for pack in self._packs]) from None

    def _read(self, text: str) -> None:
        self._packs, self._places = _packs_of(text, self.path.name)

    @contextmanager
    def draft(self) -> Iterator[Draft]:
        """The file's present text, to be changed; written back whole if that is still a list of packs."""
        try:
            from filelock import FileLock, Timeout
        except ImportError:
            raise NotInstalled(WANTED) from None
        target = self.path.resolve()  # a link stays a link
        lock = FileLock(target.with_name(f".{target.name}.lock"), timeout=LOCK_WAIT)
        try:
            with lock:
                before = _text_of(target)
                self._read(before)
                draft = Draft(before)
                yield draft
                if draft.text != before:
                    if not _only_more(before, draft.text):
                        raise Wrong(lines.NO_PLACE)
                    _packs_of(draft.text, self.path.name)
                    _replaced(target, draft.text)
                    self._read(draft.text)
        except Wrong as wrong:
            raise FaultyPacks([Fault(self.path.name, str(wrong))]) from None
        except Timeout:
            raise TimeoutError(f"{self.path.name} is being written by another program: try again") from None


class Draft:
    """The text of a file that is being changed."""

    def __init__(self, text: str) -> None:
        self.text = text


def _packs_of(text: str, file: str) -> tuple[tuple[ListedPack, ...], dict[str, int]]:
    """The packs of a text and their places by name and id. Raises `FaultyPacks`."""
    document = _toml(text, file)
    where = lines.entries(text)
    faults: list[tuple[int, str]] = []
    packs: list[ListedPack] = []
    listed = document.get("pack", [])
    if not isinstance(listed, list) or not all(isinstance(entry, dict) for entry in listed):
        raise FaultyPacks([Fault(file, "write each pack under a heading of its own, [[pack]] in double brackets")])
    if not listed and document:
        faults.append((1, f"no pack is in it{_slip(document)}: begin each pack with a line [[pack]]"))
    places: dict[str, int] = {}
    for place, entry in enumerate(listed):
        spot = where[place] if len(where) == len(listed) else lines.Entry(0)
        before = len(faults)
        pack = pack_of(entry, _readings_of(entry, spot, faults), _teller(spot, faults))
        if pack is None:
            continue
        for key, field in ((pack.id, "id"), (pack.name, "name")):
            if places.setdefault(key.casefold(), place) != place:
                faults.append((spot.line(field), f'"{key}" is the {field} of two packs: give each one of its own'))
        if len(faults) == before:
            packs.append(pack)
    if faults:
        told = sorted(faults, key=lambda fault: fault[0])
        raise FaultyPacks(Fault(f"{file} line {line}" if line else file, message) for line, message in told)
    return tuple(packs), places


def _readings_of(entry: Mapping[str, Any], spot: lines.Entry, faults: list[tuple[int, str]]) -> list[PackReading]:
    listed = entry.get("reading", [])
    if not isinstance(listed, list) or not all(isinstance(each, dict) for each in listed):
        faults.append((spot.line("reading"), "write each reading under a heading of its own, [[pack.reading]]"))
        return []
    cells = entry.get("cells")
    found = []
    for place, each in enumerate(listed):
        at = spot.readings[place] if len(spot.readings) == len(listed) else lines.Entry(spot.head)
        reading = reading_of(each, cells if type(cells) is int else None, _teller(at, faults))
        if reading is not None:
            found.append(reading)
    return found


def _listener(told: list[str]) -> Tell:
    return lambda _, message: told.append(message)


def _teller(spot: lines.Entry, faults: list[tuple[int, str]]) -> Tell:
    return lambda key, message: faults.append((spot.line(key), message))


def _slip(document: Mapping[str, Any]) -> str:
    return ", but [[packs]]" if "packs" in document else ""


def _toml(text: str, file: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as fault:
        told = re.search(r"(.*) \(at (?:line (\d+), column \d+|end of document)\)", str(fault))
        every = [line.rstrip("\r\n") for line in lines.split(text)]
        number = int(told[2]) if told and told[2] else len(every)
        line = every[number - 1] if 0 < number <= len(every) else ""
        said = told[1] if told else "it cannot be read as TOML"
        cure = f"{said[:1].lower()}{said[1:]}"
        if unquoted := _UNQUOTED.fullmatch(line):
            cure = f'text goes in quotes: write {unquoted[1]} = "{unquoted[2]}"'
        raise FaultyPacks([Fault(f"{file} line {number}", cure)]) from None


def _only_more(before: str, after: str) -> bool:
    """Whether the second text holds all that the first one does, and more at the ends of its lists."""
    return _holds(tomllib.loads(after), tomllib.loads(before))


def _holds(more: Any, less: Any) -> bool:
    if isinstance(less, dict) and isinstance(more, dict):
        alike = all(name in more and _holds(more[name], value) for name, value in less.items())
        return alike and set(more) - set(less) <= {"pack", "reading"}
    if isinstance(less, list) and isinstance(more, list) and any(isinstance(each, dict) for each in less):
        return len(more) >= len(less) and all(_holds(new, old) for new, old in zip(more, less, strict=False))
    return bool(more == less)


def _text_of(path: Path) -> str:
    """A file's text, or a fault that says what to do. Line endings stay as they are."""
    try:
        return path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        cure = f'begin one with: ampstead-packs {path} add "red trainer A" cells=3 capacity="2250 mAh"'
        raise FaultyPacks([Fault(path.name, f"there is no such file; {cure}")]) from None
    except UnicodeDecodeError as fault:
        line = fault.object[: fault.start].count(b"\n") + 1
        raise FaultyPacks([Fault(f"{path.name} line {line}", "save the file as UTF-8 text")]) from None


def _replaced(target: Path, text: str) -> None:
    """Puts a text in a file's place so that at no time, power cut included, less than one whole file is there."""
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(text.encode())
            file.flush()
            os.fsync(file.fileno())
        os.chmod(name, stat.S_IMODE(target.stat().st_mode))
        os.replace(name, target)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    if hasattr(os, "O_DIRECTORY"):
        folder = os.open(target.parent, os.O_DIRECTORY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def written_reading(reading: PackReading) -> dict[str, Any]:
    """A reading as a file has it."""
    return {
        "date": reading.date,
        "kind": reading.kind,
        "value": reading.words,
        "temperature": None if reading.temperature is None else str(reading.temperature),
        "method": reading.method,
        "current": None if reading.current is None else str(reading.current),
    }


def written_pack(pack: ListedPack) -> dict[str, Any]:
    """A pack as a file has it, without its readings."""
    found = {name: getattr(pack, name) for name in fields.PACK}
    return {name: _as_written(value) for name, value in found.items()}


def _as_written(value: Any) -> Any:
    if isinstance(value, Quantity):
        return str(value)
    return int(value) if isinstance(value, float) and value.is_integer() else value


def slug(name: str) -> str:
    """A name as an id: `red-trainer-a`."""
    return re.sub(r"[^\w]+", "-", name.strip().casefold()).strip("-") or "pack"


def _plain(value: Any) -> Any:
    return list(value) if isinstance(value, tuple) else value


def _today() -> date:
    return date.today()
