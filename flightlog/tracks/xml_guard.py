"""What stands between a hostile XML file (GPX, KML) and whoever reads it.

The file is walked once, piece by piece, with the standard library's expat, which meets every declaration before
anything acts on it: document types and entities are refused; depth, number and length of elements are bounded. A
file that is cut off or damaged gives what stands before.
"""

from __future__ import annotations

import codecs
import math
import re
from collections.abc import Iterator
from xml.parsers import expat

from flightlog.errors import TrackFileError
from flightlog.tracks.notebook import Notebook, quoted

MOST_ELEMENTS = 3_000_000
"""Elements and attributes: thirteen for each of the most fixes that a log may hold."""
DEEPEST = 64
"""Nesting of elements; GPX needs six, KML eight, extensions a few more."""
LONGEST_TEXT = 4096
"""Characters of one element that are kept."""
LONGEST_TOKEN_BYTES = 1_000_000
"""Of one tag or comment: the parser looks at an unfinished one again with every piece."""
MOST_AMPERSANDS = 10_000
"""Of those that begin no reference; names hold a few."""

_PIECE_BYTES = 1 << 18
_MOST_TEXT_PIECES = 8  # of a text; the parser joins what it can
_DECLARED_ENCODING = re.compile(rb"<\?xml[^>]{0,200}?encoding\s*=\s*[\"']([A-Za-z0-9._-]{1,40})[\"']")
_TEXT_ENCODINGS = re.compile(r"utf|ascii|iso8859|latin|cp125|koi8|cp437|cp850|mac")
_LONE_AMPERSAND = re.compile(rb"&(?!(?:amp|lt|gt|quot|apos|#\d{1,7}|#[xX][0-9A-Fa-f]{1,6});)")
_LONGEST_REFERENCE = 12
_CONTROL = bytes(set(range(32)) - {9, 10, 13})
_BLANKED = bytes.maketrans(_CONTROL, b" " * len(_CONTROL))
_NO_CHARACTERS = (b"\xef\xbf\xbe", b"\xef\xbf\xbf")  # U+FFFE and U+FFFF, which XML forbids


class XmlWalker:
    """Handlers of one walk; a format overrides `opened` and `closed`, and names the elements whose text it wants.

    `path` holds the local names of the elements that are open, the root first.
    """

    kind = "XML"  # of file, for messages
    root_name = ""  # the local name that the root must have
    text_of: frozenset[str] = frozenset()
    parser: expat.XMLParserType

    def __init__(self, file: str, notebook: Notebook) -> None:
        self.file, self.notebook = file, notebook
        self.root = ""
        self.path: list[str] = []
        self._text: list[str] = []
        self._elements = 0

    def opened(self, name: str, depth: int, attributes: dict[str, str]) -> None:
        """An element begins; `depth` is 0 for the root, `path` ends with its name."""

    def closed(self, name: str, depth: int, text: str) -> None:
        """An element ends; `text` is what it held, "" for those not in `text_of`; `path` ends with its name."""

    def start(self, name: str, attributes: dict[str, str]) -> None:
        """Count and bound what begins."""
        name = name.rpartition(":")[2]
        depth = len(self.path)
        self.path.append(name)
        self._elements += 1 + len(attributes)
        if depth >= DEEPEST:
            raise self.error(f"elements are nested more than {DEEPEST} deep", f"no {self.kind} track needs that")
        if self._elements > MOST_ELEMENTS:
            raise self.error(f"more than {MOST_ELEMENTS} elements", f"no {self.kind} track needs so many")
        if depth == 0:
            self.root = name
        if name in self.text_of:
            self._text = []
            self.parser.CharacterDataHandler = self._keep_text
        self.opened(name, depth, attributes)

    def end(self, name: str) -> None:
        """Hand over what ended."""
        name = name.rpartition(":")[2]
        text = ""
        if name in self.text_of:
            self.parser.CharacterDataHandler = None
            text = "".join(self._text).strip()
            self._text = []
        self.closed(name, len(self.path) - 1, text)
        self.path.pop()

    def refuse(self, *_: object) -> None:
        """A document type or an entity: no track needs one, and they are the road of most attacks."""
        found = f"a document type or entity stands in this {self.kind} file"
        raise self.error(found, "no recorder writes one; save it anew")

    def error(self, found: str, advice: str) -> TrackFileError:
        """What is wrong at this place of the file."""
        return TrackFileError(found, advice, self.file, self.parser.CurrentLineNumber)

    def _keep_text(self, text: str) -> None:
        """Text between tags, kept only so far."""
        if len(self._text) < _MOST_TEXT_PIECES:
            self._text.append(text[:LONGEST_TEXT])


def walk(data: bytes, walker: XmlWalker) -> None:
    """Take the walker through the file.

    Raises
    ------
    TrackFileError
        A document type or entity, nesting too deep, too much of anything, or another root than the walker's.
    """
    parser = expat.ParserCreate(encoding="utf-8")
    parser.buffer_text = True
    parser.StartElementHandler = walker.start
    parser.EndElementHandler = walker.end
    parser.StartDoctypeDeclHandler = walker.refuse
    parser.EntityDeclHandler = walker.refuse
    walker.parser = parser
    try:
        _feed(data, walker)
    except expat.ExpatError as error:
        if walker.root != walker.root_name:
            found = f"no {walker.kind}: {expat.ErrorString(error.code)}"
            raise TrackFileError(found, "is it the file the recorder wrote?", walker.file, error.lineno) from error
        reason = expat.ErrorString(error.code)
        message = f"the file is cut off or damaged here ({reason}); what stands before is used"
        walker.notebook.add("cut_off", message, error.lineno)
    if walker.root != walker.root_name:
        found = f"no {walker.kind}: its root is {quoted(walker.root)}"
        raise TrackFileError(found, "is it the right file?", walker.file, 1)


def _feed(data: bytes, walker: XmlWalker) -> None:
    """Give the parser the file, piece by piece."""
    fed = 0
    for piece in _clean_pieces(data, walker):
        walker.parser.Parse(piece, False)
        fed += len(piece)
        if fed - walker.parser.CurrentByteIndex > LONGEST_TOKEN_BYTES + _PIECE_BYTES:
            raise walker.error(
                f"a tag or comment longer than {LONGEST_TOKEN_BYTES} bytes", "no recorder writes one"
            )
    walker.parser.Parse(b"", True)


def _clean_pieces(data: bytes, walker: XmlWalker) -> Iterator[bytes]:
    """The file as UTF-8 without what no XML may hold, from its first tag on."""
    decoder, skip = _decoder(data, walker.notebook)
    rest, lone, damaged = b"", 0, False
    for at in range(skip, len(data), _PIECE_BYTES):
        is_last = at + _PIECE_BYTES >= len(data)
        text = decoder.decode(data[at : at + _PIECE_BYTES], is_last)
        if at == skip:
            text = _from_first_tag(text, walker.notebook)
        piece = rest + text.encode("utf-8", "replace")
        cut = len(piece) if is_last else _whole_references(piece)
        piece, rest = piece[:cut], piece[cut:]
        cleaned, count = _cleaned(piece)
        lone += count
        if lone > MOST_AMPERSANDS:
            raise walker.error(f"more than {MOST_AMPERSANDS} ampersands that begin no reference", "is it damaged?")
        damaged = damaged or cleaned != piece or "\ufffd" in text
        yield cleaned
    if damaged:
        walker.notebook.add("damaged_text", "bytes that no XML may hold; replaced")


def _cleaned(piece: bytes) -> tuple[bytes, int]:
    """The piece without forbidden characters and lone ampersands, and how many of the latter there were."""
    piece = piece.translate(_BLANKED)
    if b"\xef\xbf" in piece:
        for forbidden in _NO_CHARACTERS:
            piece = piece.replace(forbidden, b" ")
    return _LONE_AMPERSAND.subn(b"&amp;", piece) if b"&" in piece else (piece, 0)


def _whole_references(piece: bytes) -> int:
    """Where to cut a piece, so that no reference (`&amp;`) is parted."""
    at = piece.rfind(b"&", max(0, len(piece) - _LONGEST_REFERENCE))
    return at if at >= 0 else len(piece)


def _from_first_tag(text: str, notebook: Notebook) -> str:
    """The beginning of the file from its first tag on; the lines before it still count."""
    start = max(text.find("<"), 0)
    if text[:start].strip("\ufeff \t\r\n"):
        notebook.add("leading_junk", f"{quoted(text[:start])} stands before the first tag; skipped", 1)
    lines_before = 0 if text.startswith("<?xml", start) else text.count("\n", 0, start)  # nothing may precede that
    return "\n" * lines_before + text[start:]


def _decoder(data: bytes, notebook: Notebook) -> tuple[codecs.IncrementalDecoder, int]:
    """How to make text of the file: by its byte order mark, as declared, else UTF-8; and the mark's length."""
    name, skip = "utf-8", 0
    declared = _DECLARED_ENCODING.search(data[:1024])
    if data.startswith(codecs.BOM_UTF8):
        skip = 3
    elif data.startswith((codecs.BOM_UTF16_LE, b"<\0")):
        name, skip = "utf-16-le", 0 if data.startswith(b"<") else 2
    elif data.startswith((codecs.BOM_UTF16_BE, b"\0<")):
        name, skip = "utf-16-be", 0 if data.startswith(b"\0") else 2
    elif declared:
        name = _known_encoding(declared.group(1).decode("ascii").lower(), notebook)
    return codecs.getincrementaldecoder(name)(errors="replace"), skip


def _known_encoding(name: str, notebook: Notebook) -> str:
    """The encoding of that name where it is one for text and can be true, else UTF-8."""
    try:
        encoding = codecs.lookup(name).name
    except LookupError:
        encoding = ""
    if not _TEXT_ENCODINGS.match(encoding.replace("-", "")) or encoding.startswith(("utf-16", "utf-32", "utf-7")):
        notebook.add("encoding", f"the encoding {quoted(name)} is not known here or not true; read as UTF-8", 1)
        return "utf-8"
    return encoding


def number_in(text: str | None) -> float:
    """The number that a text holds; NaN where it holds none.

    >>> number_in(" 46.5 "), number_in("forty"), number_in("4_6")
    (46.5, nan, nan)
    """
    try:
        return float(text) if text and "_" not in text else math.nan
    except ValueError:
        return math.nan
