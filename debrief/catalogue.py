"""The catalogue of all sentences, for translators; ``python -m debrief.catalogue`` brings it up to date.

Owns      finding the sentences in the source, and the files in ``languages/``: ``debrief.pot`` with every sentence,
          a ``.po`` of each language, which people edit, and the ``.mo`` made of it, which the program reads.
Not here  saying a sentence (``language``).
Needs     Babel, one of the developers' tools.

``--check`` writes nothing and ends with status 1 where a file is stale, or a sentence has no translation or one whose
gaps are not those of the original. A new language: an empty ``languages/xx/LC_MESSAGES/debrief.po``, then this.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path
from string import Formatter

from babel.messages.catalog import Catalog, Message
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po
from jinja2 import Environment, nodes

from debrief.language import A_NUMBER, CATALOGUES, DOMAIN, in_script

PACKAGE = Path(__file__).parent
#: Calls that hold sentences: which positions and which keywords, ``None`` for all of them.
_HOLDERS: dict[str, tuple[int | None, frozenset[str]]] = {
    "tr": (1, frozenset()),
    "trn": (2, frozenset()),
    "plural": (2, frozenset()),
    "mark": (None, frozenset()),
    "Sentences": (None, frozenset()),
    "Exercise": (None, frozenset()),
    "Link": (0, frozenset({"sentence"})),
    "Path": (0, frozenset({"says"})),
}
_PLURALS = ("trn", "plural")
_MADE = datetime(2026, 1, 1, tzinfo=UTC)  # always the same: files change with their sentences only


def sentences() -> Iterator[tuple[str | tuple[str, str], str]]:
    """Every sentence in the source, singular and plural where it has both, and the file it stands in."""
    yield A_NUMBER, "language.py"
    for path in sorted(PACKAGE.rglob("*.py")):
        if path.name in ("language.py", "catalogue.py"):
            continue
        place = path.relative_to(PACKAGE).as_posix()
        for found in sentences_in(path.read_text(encoding="utf-8")):
            yield found, place
    for path in sorted(PACKAGE.rglob("*.html")):
        for found in sentences_in_template(path.read_text(encoding="utf-8")):
            yield found, path.relative_to(PACKAGE).as_posix()
    for path in sorted(PACKAGE.rglob("*.js")):
        for text in in_script(path.read_text(encoding="utf-8")):
            yield text, path.relative_to(PACKAGE).as_posix()


def sentences_in_template(source: str) -> Iterator[str | tuple[str, str]]:
    """The sentences in a template of a page: ``tr``, ``trh`` (with tags in it) and ``trn``.

    >>> list(sentences_in_template('<p>{{ tr("a", b=c) }} {{ trn("d", "e", 2) }}</p>'))
    ['a', ('d', 'e')]
    """
    for call in Environment().parse(source).find_all(nodes.Call):
        name = call.node.name if isinstance(call.node, nodes.Name) else ""
        texts = [part.value for part in call.args if isinstance(part, nodes.Const)]
        if name in ("tr", "trh") and texts:
            yield texts[0]
        elif name == "trn":
            yield texts[0], texts[1]


def sentences_in(source: str) -> Iterator[str | tuple[str, str]]:
    """The sentences in one source text, in its order.

    >>> list(sentences_in('tr("a"); trn("b", "c", 2); mark({"key": "d", "other": ("e", f())})'))
    ['a', ('b', 'c'), 'd', 'e']
    """
    calls = [node for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Call)]
    for call in sorted(calls, key=lambda node: (node.lineno, node.col_offset)):
        name = call.func.id if isinstance(call.func, ast.Name) else ""
        if name not in _HOLDERS:
            continue
        positions, keywords = _HOLDERS[name]
        held = [*call.args[:positions], *(word.value for word in call.keywords if word.arg in keywords)]
        texts = [text for part in held for text in _texts(part) if text]
        if name in _PLURALS:
            if len(texts) == len(("one", "many")):  # else it is said of a table, which is marked itself
                yield texts[0], texts[1]
        else:
            yield from texts


def _texts(node: ast.AST) -> Iterator[str]:
    """The texts in an expression: of a table its values, of a call nothing."""
    match node:
        case ast.Constant(value=str(text)):
            yield text
        case ast.Tuple() | ast.List() | ast.Set():
            for part in node.elts:
                yield from _texts(part)
        case ast.Dict():
            for part in node.values:
                yield from _texts(part)
        case ast.IfExp():
            yield from _texts(node.body)
            yield from _texts(node.orelse)


class _Catalogue(Catalog):
    """Without the header that names Babel's version: files change with their sentences only."""

    @property
    def mime_headers(self) -> list[tuple[str, str]]:
        return [(name, value) for name, value in self._get_mime_headers() if name != "Generated-By"]

    @mime_headers.setter
    def mime_headers(self, headers: Iterable[tuple[str, str]]) -> None:
        self._set_mime_headers(headers)


def template() -> Catalog:
    """Every sentence, none translated."""
    found = _Catalogue(
        domain=DOMAIN,
        project="debrief",
        version="1",
        msgid_bugs_address="the project",
        last_translator="the project",
        language_team="the project",
        header_comment="# The sentences of debrief.",
        creation_date=_MADE,
        revision_date=_MADE,
        fuzzy=False,
    )
    for text, place in sentences():
        found.add(text, locations=[(place, 0)])
    return found


def translated(language: str) -> Catalog:
    """A language's catalogue with every sentence of today, new ones without a translation, old ones dropped."""
    path = po_file(language)
    with path.open("rb") as file:
        known = read_po(file, locale=language, domain=DOMAIN)
    catalogue = template()
    catalogue.locale = language
    for message in catalogue:
        before = known.get(message.id) if message.id else None
        if before is not None and not before.fuzzy:
            message.string = before.string
    return catalogue


def po_file(language: str) -> Path:
    """Where a language's translations stand."""
    return CATALOGUES / language / "LC_MESSAGES" / f"{DOMAIN}.po"


def written_languages() -> list[str]:
    """The languages that have translations, finished or not."""
    return sorted(path.parent.parent.name for path in CATALOGUES.glob(f"*/*/{DOMAIN}.po"))


def gaps(text: str) -> set[str]:
    """The named gaps of a sentence.

    >>> sorted(gaps("from {start} to {end:.1f}"))
    ['end', 'start']
    """
    return {name for _, name, _, _ in Formatter().parse(text) if name is not None}


def mistakes(catalogue: Catalog) -> list[str]:
    """What is missing or wrong in a language's translations, one line each."""
    return [f"{message.id!r}: {what}" for message in catalogue if message.id for what in _wrong(message)]


def _wrong(message: Message) -> Iterator[str]:
    wanted: list[str] = [message.id] if isinstance(message.id, str) else list(message.id)
    given: list[str] = [message.string] if isinstance(message.string, str) else list(message.string or ("",))
    if not all(given):
        yield "no translation"
        return
    for text in given:
        try:
            found = gaps(text)
        except ValueError as error:
            yield str(error)
            continue
        # the singular may say "one" where the plural has its gap
        if not gaps(wanted[0]) <= found <= gaps(wanted[-1]):
            yield f"its gaps are {sorted(gaps(wanted[-1]))}, the translation's {sorted(found)}"


def files() -> tuple[dict[Path, bytes], list[str]]:
    """What every file should hold, and the mistakes of all translations."""

    def po(catalogue: Catalog) -> bytes:
        buffer = BytesIO()
        write_po(buffer, catalogue, width=110, include_lineno=False, sort_by_file=True)
        return buffer.getvalue()

    wanted = {CATALOGUES / f"{DOMAIN}.pot": po(template())}
    wrong: list[str] = []
    for language in written_languages():
        catalogue = translated(language)
        wrong += [f"{language}: {mistake}" for mistake in mistakes(catalogue)]
        machine = BytesIO()
        write_mo(machine, catalogue)
        wanted[po_file(language)] = po(catalogue)
        wanted[po_file(language).with_suffix(".mo")] = machine.getvalue()
    return wanted, wrong


def main(arguments: Sequence[str]) -> int:
    """Write or check the files; the exit status."""
    wanted, wrong = files()
    stale = [path for path, content in wanted.items() if not path.exists() or path.read_bytes() != content]
    if "--check" not in arguments:
        for path in stale:
            path.write_bytes(wanted[path])
        stale = []
    for path in stale:
        _say(f"{path.relative_to(PACKAGE)} is stale: run python -m debrief.catalogue")
    for line in wrong:
        _say(line)
    return 1 if wrong or stale else 0


def _say(line: str) -> None:
    sys.stdout.write(line + "\n")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
