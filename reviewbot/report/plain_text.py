"""Names from files are data: how they are written so that no output takes them for anything else.

A sentence is cut into pieces of two kinds. Plain pieces hold letters, digits and harmless
punctuation only; everything else, and every known name, becomes a piece shown as a name: a code
span in Markdown, a code element in HTML. Inside those, characters that act or hide are written out.
"""

from __future__ import annotations

import html
import re
import unicodedata
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from functools import lru_cache

NAME_LIMIT = 100  # characters of one name that are shown
SENTENCE_LIMIT = 400  # characters of one sentence that are shown
_SHOWN_ENDS = (70, 25)

_WORDS_FOR = {
    "`": "backtick",
    "|": "pipe",
    "\\": "backslash",
    "\n": "newline",
    "\r": "return",
    "\t": "tab",
    "\N{NO-BREAK SPACE}": "hard space",
}
# Unicode's Default_Ignorable_Code_Point and blank letters outside the categories tested below.
_UNSEEN = re.compile(
    "[\u034f\u115f\u1160\u17b4\u17b5\u180b-\u180f\u2800\u3164\ufe00-\ufe0f\uffa0\U000e0100-\U000e01ef]"
)
_ODD_CATEGORIES = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp", "Zs"})
_ODD_BLANKS = re.compile(r"^ +| +$|(?<= ) +")
_MARKS_STACKED = 2  # more accents on one letter only smear over the neighbouring lines

_CORE = r"[^\W_](?:[^\W_]|[-+.,'’/=%°×·²³±≈≤≥→−–—⁻])*"
_PLAIN_WORD = re.compile(rf"[\"'(“‘’]*(?:[-+±≈≤≥×=−–—→]?(?:{_CORE})?)[\"')”’.,;:!?%…]*")
# What hosts turn into links on sight: addresses, commit hashes, numbered threads.
_LINKED_ON_SIGHT = re.compile(r"www\.|(?=[a-f]*\d)[0-9a-f]{7,}|gh-\d", re.IGNORECASE)
_STARTS_A_BLOCK = re.compile(r"[-+=]+|\d+[.)]")
_RIGHT_TO_LEFT = frozenset({"R", "AL", "AN"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A run of a sentence: plain words, or a name to be set apart."""

    text: str
    is_name: bool


def visible(name: str) -> str:
    """One line in which every character shows: those that act or hide are written out in ‹ ›.

    Long names lose their middle; an empty one is said to be so.
    """
    if not name:
        return "‹no name›"
    if len(name) > NAME_LIMIT:
        head, tail = _SHOWN_ENDS
        name = f"{name[:head]} … {name[-tail:]}"
    blanks_told = _ODD_BLANKS.sub(lambda run: "‹space›" * len(run[0]), name)
    return "".join(_visible_characters(blanks_told))


def _visible_characters(name: str) -> Iterable[str]:
    marks = 0
    for character in name:
        category = unicodedata.category(character)
        marks = marks + 1 if category in ("Mn", "Me") else 0
        odd = category in _ODD_CATEGORIES and character != " "
        if odd or character in _WORDS_FOR or marks > _MARKS_STACKED or _UNSEEN.match(character):
            yield f"‹{_WORDS_FOR.get(character, f'U+{ord(character):04X}')}›"
        else:
            yield character


def pieces(sentence: str, names: Collection[str] = ()) -> list[Piece]:
    """A sentence cut into plain and name pieces; `names` are set apart wherever they stand.

    One of blanks only is a name; an empty one is a dash.
    """
    if not sentence.strip(" "):
        return [Piece(text=sentence or "–", is_name=bool(sentence))]
    if len(sentence) > SENTENCE_LIMIT:
        sentence = f"{sentence[:SENTENCE_LIMIT]} …"
    found: list[Piece] = []
    for run in _split_at_names(sentence, frozenset(names)):
        for piece in [run] if run.is_name else _plain_or_not(run.text, first=not found):
            _append_joined(found, piece)
    return found


def mentions(sentence: str, name: str) -> bool:
    """Whether a sentence says a name, as a whole word."""
    return any(piece.is_name for piece in _split_at_names(sentence, frozenset({name})))


def markdown_name(name: str) -> str:
    """A name as a Markdown code span, safe in table cells too."""
    return f"`{visible(name)}`"


def markdown_sentence(sentence: str, names: Collection[str] = ()) -> str:
    """A sentence as inline Markdown from which no link, mention, picture or emphasis comes."""
    return "".join(
        markdown_name(piece.text) if piece.is_name else piece.text
        for piece in pieces(sentence, names)
    )


def html_name(name: str) -> str:
    """A name as an HTML code element, its direction kept from its surroundings."""
    return f"<code><bdi>{html.escape(visible(name))}</bdi></code>"


def html_sentence(sentence: str, names: Collection[str] = ()) -> str:
    """A sentence as inline HTML, names in code elements."""
    return "".join(
        html_name(piece.text) if piece.is_name else html.escape(piece.text)
        for piece in pieces(sentence, names)
    )


def plain_sentence(sentence: str, names: Collection[str] = ()) -> str:
    """A sentence as one line of plain text, every character visible."""
    return "".join(
        visible(piece.text) if piece.is_name else piece.text for piece in pieces(sentence, names)
    )


def _long_first(name: str) -> tuple[int, str]:
    return -len(name), name


@lru_cache(maxsize=256)
def _name_pattern(names: frozenset[str]) -> re.Pattern[str] | None:
    """Any of the names, as a whole word; quotation marks round it are taken along."""
    longest_first = sorted((name for name in names if name.strip()), key=_long_first)
    if not longest_first:
        return None
    any_name = "|".join(map(re.escape, longest_first))
    quoted = rf"(?P<mark>['\"])(?P<quoted>{any_name})(?P=mark)"
    return re.compile(rf"(?<!\w)(?:{quoted}|(?P<bare>{any_name}))(?!\w)")


def _split_at_names(sentence: str, names: frozenset[str]) -> Iterable[Piece]:
    pattern = _name_pattern(frozenset(name for name in names if name in sentence))
    at = 0
    for found in pattern.finditer(sentence) if pattern else ():
        if found.start() > at:
            yield Piece(text=sentence[at : found.start()], is_name=False)
        yield Piece(text=found["quoted"] or found["bare"], is_name=True)
        at = found.end()
    if at < len(sentence):
        yield Piece(text=sentence[at:], is_name=False)


def _plain_or_not(run: str, *, first: bool) -> Iterable[Piece]:
    for word in re.findall(r" +|[^ ]+", run):
        blank = word.isspace() and set(word) == {" "}
        if blank:
            yield Piece(text=" ", is_name=False)
        else:
            yield Piece(text=word, is_name=not _is_plain(word, first=first))
        first = False


@lru_cache(maxsize=8192)
def _is_plain(word: str, *, first: bool) -> bool:
    if not _PLAIN_WORD.fullmatch(word) or _LINKED_ON_SIGHT.search(word):
        return False
    if first and _STARTS_A_BLOCK.fullmatch(word):
        return False
    if any(unicodedata.bidirectional(character) in _RIGHT_TO_LEFT for character in word):
        return False
    return visible(word) == word


def _append_joined(found: list[Piece], piece: Piece) -> None:
    """Names that touch become one: two code spans side by side would run into each other."""
    if piece.is_name and found and found[-1].is_name:
        found[-1] = Piece(text=found[-1].text + piece.text, is_name=True)
    else:
        found.append(piece)
