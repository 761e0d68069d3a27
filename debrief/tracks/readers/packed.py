"""Logs in a gzip or zip archive: one track, or each of a zip's, unpacked for as long as it is read.

Owns      which file of an archive is the log, what lies in a zip, how much may come out of one, damaged archives.
Not here  the formats inside (``registry``).
Safety    No name inside an archive is used as one: the log goes to a folder of its own for temporary files, under the
          archive's name. What swells out of all proportion is refused while it does.
"""

from __future__ import annotations

import bz2
import copy
import gzip
import lzma
import re
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from struct import error as structure_error
from struct import unpack
from tempfile import TemporaryDirectory
from typing import IO, NoReturn

from debrief.errors import Place, TrackError
from debrief.tracks.model import Track
from debrief.tracks.readers.samples import sha256_of
from debrief.tracks.readers.sniff import HEAD_BYTES, kind_of, plain
from debrief.tracks.words import counted

_GZIP, _ZIPS = b"\x1f\x8b", (b"PK\x03\x04", b"PK\x05\x06")
_LARGEST_BYTES = 512_000_000  # more than any log that can be read
_SWELLING_FROM_BYTES = 32_000_000
_GREATEST_RATIO = 200  # text of numbers shrinks to a tenth, hours at the gate to a twenty-fifth
_MOST_FILES = 200
_MOST_MEMBERS = 20_000  # where each is a log of its own
_PIECE = 1 << 20
_LARGEST_DICTIONARY_BYTES = 1 << 27  # twice that of the strongest setting; common practice
_NAMES_SHOWN = 3
#: What the libraries raise on what is no whole archive.
_DAMAGE = (
    zipfile.BadZipFile, zlib.error, lzma.LZMAError, EOFError, NotImplementedError, RuntimeError, ValueError,
    structure_error, OverflowError, IndexError,
)  # fmt: skip

IsLog = Callable[[bytes], bool]


def is_packed(head: bytes) -> bool:
    """Whether the first bytes are those of a gzip or zip archive."""
    return head.startswith((_GZIP, *_ZIPS))


def read_packed(path: Path, is_log: IsLog, read: Callable[[Path], Track]) -> Track:
    """Read the one log in an archive.

    Parameters
    ----------
    path : the archive.
    is_log : whether a file with these first bytes can be read.
    read : how it is read, once it lies in a file of its own.

    Returns
    -------
    The track, with the archive's name and sum.

    Raises
    ------
    TrackError
        Where there is not exactly one log in the archive, where the archive is damaged, locked, or holds far more than
        its size lets expect; and what ``read`` raises, naming the archive and the file in it.
    """
    with _unpacked(path, is_log) as (log, inside):
        try:
            track = read(log)
        except TrackError as error:
            where = (
                replace(error.where, path=f"{path}, {inside}" if inside else path) if error.where else None
            )
            raise TrackError(error.what, where=where, remedy=error.remedy, needs=error.needs) from error
    note = (f"The log is {inside} in the archive.",) if inside else ()
    return replace(track, sha256=sha256_of(path), notes=(*note, *track.notes))


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """One file in an opened zip archive. Its name is a label, and never used as a path."""

    archive: zipfile.ZipFile
    number: int  # among the archive's entries, from 0
    name: str

    def head(self) -> bytes:
        """The first bytes; none where it cannot be unpacked."""
        try:
            return _head(self.archive, self.archive.infolist()[self.number])
        except (OSError, *_DAMAGE):
            return b""


@contextmanager
def members_of(path: Path) -> Iterator[tuple[Member, ...]]:
    """The files in a zip archive, which stays open meanwhile: to list its files again for each of thousands takes minutes.

    Raises ``TrackError`` where it is damaged, or holds far too many.
    """
    try:
        archive = zipfile.ZipFile(path)
    except _DAMAGE as error:
        _refuse_damaged(path, error)
    except OSError as error:
        raise TrackError(
            f"it cannot be read: {error.strerror or error}", where=Place(path=path), remedy="Fetch it again."
        ) from error
    with archive:
        entries = archive.infolist()
        if len(entries) > _MOST_MEMBERS:
            raise TrackError(
                f"the archive holds {len(entries):,} files", where=Place(path=path), remedy="Unpack it."
            )
        yield tuple(
            Member(archive=archive, number=number, name=entry.filename)
            for number, entry in enumerate(entries)
            if not entry.is_dir()
        )


@contextmanager
def unpacked_member(path: Path, number: int) -> Iterator[Path]:
    """One file of a zip archive as a file of its own, for as long as it is needed; raises ``TrackError``."""
    with TemporaryDirectory(prefix="debrief-", ignore_cleanup_errors=True) as folder:
        log = Path(folder) / "log"
        try:
            with zipfile.ZipFile(path) as archive:
                entry = archive.infolist()[number]
                if entry.flag_bits & 1:
                    raise TrackError(
                        "it is locked with a password", where=Place(path=path), remedy="Unpack the archive."
                    )
                _copy(path, _pieces_of(archive, entry), log)
        except _DAMAGE as error:
            _refuse_damaged(path, error)
        except OSError as error:
            raise TrackError(
                f"it cannot be unpacked: {error.strerror or error}",
                where=Place(path=path),
                remedy="Make room for temporary files, or unpack the archive.",
            ) from error
        yield log


@contextmanager
def _unpacked(path: Path, is_log: IsLog) -> Iterator[tuple[Path, str]]:
    """A file with the log, for as long as it is needed, and the log's name in the archive, if it has one."""
    with TemporaryDirectory(prefix="debrief-", ignore_cleanup_errors=True) as folder:
        log = Path(folder) / path.name
        inside = ""
        try:
            with path.open("rb") as archive:
                if archive.read(2) == _GZIP:
                    archive.seek(0)
                    with gzip.GzipFile(fileobj=archive) as packed:
                        _copy(path, _read_on(packed), log)
                else:
                    with zipfile.ZipFile(archive) as folder_of_files:
                        entry = _the_log(path, folder_of_files, is_log)
                        inside = plain(entry.filename)
                        _copy(path, _pieces_of(folder_of_files, entry), log)
        except gzip.BadGzipFile as error:
            _refuse_damaged(path, error)
        except _DAMAGE as error:
            _refuse_damaged(path, error)
        except OSError as error:
            if error.errno is None:  # not the system's, but that of a library which found nonsense
                _refuse_damaged(path, error)
            raise TrackError(
                f"it cannot be unpacked: {error.strerror}",
                where=Place(path=path),
                remedy="Make room for temporary files, or unpack it and give the log inside.",
            ) from error
        yield log, inside


def _copy(path: Path, pieces: Iterable[bytes], log: Path) -> None:
    """Write what is unpacked piece by piece, and stop where more comes out than can be a log."""
    size, whole = 0, path.stat().st_size
    with log.open("wb") as file:
        for piece in pieces:
            if not size and is_packed(piece):
                raise TrackError(
                    "it is packed more than once",
                    where=Place(path=path),
                    remedy="Unpack it and give the log inside.",
                )
            size += len(piece)
            if size > _LARGEST_BYTES or (size > _SWELLING_FROM_BYTES and size > _GREATEST_RATIO * whole):
                raise TrackError(
                    f"more than {size / 1e6:,.0f} MB come out of {whole / 1e3:,.0f} kB, which is no log",
                    where=Place(path=path),
                    remedy="Unpack it and give the log inside, if it is one.",
                )
            file.write(piece)


def _the_log(path: Path, archive: zipfile.ZipFile, is_log: IsLog) -> zipfile.ZipInfo:
    """The one file of a zip archive that can be read; what is alone in one is taken for it."""
    entries = [entry for entry in archive.infolist() if not entry.is_dir()]
    names = {entry.filename for entry in entries}
    if "[Content_Types].xml" in names or "mimetype" in names:
        raise TrackError(
            "it is a spreadsheet or a document",
            where=Place(path=path),
            remedy="Save it as CSV and give that.",
        )
    if not entries:
        raise TrackError("the archive is empty", where=Place(path=path), remedy="Export the log again.")
    if len(entries) > _MOST_FILES:
        raise TrackError(
            f"the archive holds {len(entries):,} files",
            where=Place(path=path),
            remedy="Unpack it and give one log.",
        )
    if any(entry.flag_bits & 1 for entry in entries):
        raise TrackError(
            "the archive is locked with a password",
            where=Place(path=path),
            remedy="Unpack it and give the log inside.",
        )
    if len(entries) == 1:
        return entries[0]
    heads = {entry: _head(archive, entry) for entry in entries}
    logs = [entry for entry in entries if is_log(heads[entry])]
    if len(logs) == 1:
        return logs[0]
    if not logs:
        first = entries[0]
        raise TrackError(
            f"none of {counted(len(entries), 'file')} in the archive is a log: the first, {plain(first.filename)!r}, is "
            f"{kind_of(heads[first])[0] if heads[first] else 'empty'}",
            where=Place(path=path),
            remedy="Give the log itself.",
        )
    shown = ", ".join(plain(entry.filename) for entry in logs[:_NAMES_SHOWN])
    more = f" and {len(logs) - _NAMES_SHOWN} more" if len(logs) > _NAMES_SHOWN else ""
    raise TrackError(
        f"the archive holds {counted(len(logs), 'log')}: {shown}{more}",
        where=Place(path=path),
        remedy="Unpack it and give each by its own name.",
    )


def _head(archive: zipfile.ZipFile, entry: zipfile.ZipInfo) -> bytes:
    head = b""
    for piece in _pieces_of(archive, entry, HEAD_BYTES):
        head += piece
        if len(head) >= HEAD_BYTES:
            break
    return head[:HEAD_BYTES]


def _read_on(file: IO[bytes] | gzip.GzipFile, most: int = _PIECE) -> Iterator[bytes]:
    while piece := file.read(most):
        yield piece


def _pieces_of(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, most: int = _PIECE) -> Iterator[bytes]:
    """A file of a zip archive, unpacked in pieces of at most ``most`` bytes."""
    if entry.compress_type in (zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA):
        yield from _bounded(archive, entry, most)
        return
    with archive.open(entry) as file:
        yield from _read_on(file, most)


def _bounded(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, most: int) -> Iterator[bytes]:
    """The same of what bzip2 or LZMA packed.

    ``zipfile`` bounds what it takes in of these, but not what comes out, and two kilobytes of them hold gigabytes. So it
    is asked for the packed bytes only.
    """
    packed = copy.copy(entry)
    packed.compress_type, packed.file_size = zipfile.ZIP_STORED, entry.compress_size
    del packed.CRC  # that of what comes out, and looked at below
    left, checksum = entry.file_size, 0
    with archive.open(packed) as file:
        unpacker = bz2.BZ2Decompressor() if entry.compress_type == zipfile.ZIP_BZIP2 else _lzma_of(file)
        while left and not unpacker.eof:
            taken = file.read(_PIECE) if unpacker.needs_input else b""
            if unpacker.needs_input and not taken:
                raise EOFError("it ends before its file does")
            piece = unpacker.decompress(taken, min(most, left))
            left -= len(piece)
            checksum = zlib.crc32(piece, checksum)
            yield piece
    if left or checksum != entry.CRC:
        raise zipfile.BadZipFile("its checksum is wrong")


def _lzma_of(file: IO[bytes]) -> lzma.LZMADecompressor:
    """What unpacks an entry, by the properties that it begins with.

    Two bytes of version, two of length, then the properties: (pb * 5 + lp) * 9 + lc, and four bytes of the dictionary's
    size. Source: Python's zipfile.LZMADecompressor, and what liblzma writes for each setting. Mark: seen.
    """
    _, length = unpack("<HH", file.read(4))
    first, dictionary = unpack("<BI", file.read(length))
    if dictionary > _LARGEST_DICTIONARY_BYTES:
        raise zipfile.BadZipFile(f"it asks for a dictionary of {dictionary / 1e6:,.0f} MB")
    bits, lc = divmod(first, 9)
    pb, lp = divmod(bits, 5)
    chain = [{"id": lzma.FILTER_LZMA1, "dict_size": dictionary, "lc": lc, "lp": lp, "pb": pb}]
    return lzma.LZMADecompressor(lzma.FORMAT_RAW, filters=chain)


def _refuse_damaged(path: Path, error: Exception) -> NoReturn:
    said = plain(
        re.sub(r"\s+", " ", re.sub(r"^Error -?\d+ while decompressing data: ", "", str(error)))
    ).rstrip(".")
    said = said or type(error).__name__
    raise TrackError(
        f"the archive is damaged or cut off: {said}",
        where=Place(path=path),
        remedy="Fetch it again, or give the log itself.",
    ) from error
