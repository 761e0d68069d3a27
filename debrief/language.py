"""The language that sentences are said in: English, or another from its catalogue.

Owns      ``tr`` and its kin, which every sentence of a report goes through, and which language is spoken.
Not here  the sentences, which stand where they are said, and their translations (``languages/``).
Imports   nothing heavy: everything imports this.

A sentence is whole, with named gaps: ``tr("{count} samples", count=...)``. What is put together from pieces in English
cannot be said in another language. A text that is looked up later is marked where it stands: ``mark("Wind")``, and
said with ``tr(text)``. ``python -m debrief.catalogue`` collects them all. Names of rules, phases and keys, help texts
and errors are not translated.
"""

from __future__ import annotations

import gettext
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from numbers import Real
from pathlib import Path
from string import Formatter
from typing import Any, TypeVar, cast

from debrief.errors import DebriefError

ENGLISH = "en"
DOMAIN = "debrief"
CATALOGUES = Path(__file__).with_name("languages")

T = TypeVar("T")
_spoken: ContextVar[str] = ContextVar("spoken", default=ENGLISH)


def languages() -> tuple[str, ...]:
    """The languages there are, by their ISO 639 codes, English first."""
    return (ENGLISH, *sorted(path.parent.parent.name for path in CATALOGUES.glob(f"*/*/{DOMAIN}.mo")))


def spoken() -> str:
    """The language that is spoken now."""
    return _spoken.get()


def known(language: str) -> str:
    """The language itself; ``DebriefError`` where there is no such language."""
    if language not in languages():
        raise DebriefError(
            f"there is no language {language[:20]!r} here", remedy=f"Languages: {', '.join(languages())}."
        )
    return language


@contextmanager
def speaking(language: str) -> Iterator[None]:
    """Say everything in this language until the end of the block, in this thread or task.

    Raises
    ------
    DebriefError
        Where there is no such language.
    """
    before = _spoken.set(known(language))
    try:
        yield
    finally:
        _spoken.reset(before)


def tr(message: str, /, **values: object) -> str:
    """The sentence in the language that is spoken, its gaps filled; a text without a translation as it is.

    >>> tr("from {start} to {end}", start=1, end=2)
    'from 1 to 2'
    """
    said = _catalogue(_spoken.get()).gettext(message) if message else ""
    return _filled(said, values) if values else said


def trn(one: str, many: str, count: int, /, **values: object) -> str:
    """The same for a count, which stands in the gap ``{count}``.

    >>> trn("one finding", "{count} findings", 1), trn("one finding", "{count} findings", 2)
    ('one finding', '2 findings')
    """
    said = _catalogue(_spoken.get()).ngettext(one, many, count)
    return _filled(said, {"count": count, **values})


def plural(one: str, many: str) -> tuple[str, str]:
    """The two sentences for ``trn``, marked for the catalogue where they stand in a table."""
    return one, many


def mark(texts: T) -> T:
    """Nothing: it marks the texts in it (of a table the values, not the keys) for the catalogue, to be said later."""
    return texts


#: How a number is written: a language translates it with its own signs for thousands and decimals.
A_NUMBER = "1,234.5"


def figure(value: float, spec: str = "") -> str:
    """A number as it is written in the language that is spoken; ``spec`` as Python's ``format`` takes it.

    Every number that a reader sees goes through here, or stands in a gap of ``tr``, which does the same.

    >>> figure(1234.56, ",.1f")
    '1,234.6'
    """
    text = format(value, spec)
    if _spoken.get() == ENGLISH:
        return text
    written = tr(A_NUMBER)
    return text.translate({ord(","): written[1], ord("."): written[5]})


class _Filler(Formatter):
    """Fills the gaps of a sentence; numbers as ``figure`` writes them."""

    def format_field(self, value: Any, format_spec: str) -> str:
        """Format one gap."""
        if isinstance(value, Real) and not isinstance(value, bool):
            return figure(cast(float, value), format_spec)
        return format(value, format_spec)


_FILLER = _Filler()


def _filled(said: str, values: Mapping[str, object]) -> str:
    return said.format_map(values) if _spoken.get() == ENGLISH else _FILLER.vformat(said, (), values)


def within(name: str) -> str:
    """A name as it stands within a sentence: English begins it small, German does not.

    >>> within("Intercept angle"), within("DME distance")
    ('intercept angle', 'DME distance')
    """
    small = spoken() == ENGLISH and not name[:2].isupper()
    return name[:1].lower() + name[1:] if small else name


def sentence(text: str) -> str:
    """The text with a capital at its beginning."""
    return text[:1].upper() + text[1:]


_IN_SCRIPT = re.compile(r'\btr\(\s*"((?:[^"\\]|\\.)*)"')


def in_script(source: str) -> list[str]:
    """The sentences in a script of a page, where ``tr`` is called the same.

    >>> in_script('say(tr("not sent: {most} at most", { most }));')
    ['not sent: {most} at most']
    """
    return [found.replace('\\"', '"') for found in _IN_SCRIPT.findall(source)]


@cache
def _catalogue(language: str) -> gettext.NullTranslations:
    if language == ENGLISH:
        return gettext.NullTranslations()
    return gettext.translation(DOMAIN, localedir=CATALOGUES, languages=[language])
