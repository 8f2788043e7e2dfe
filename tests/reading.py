"""Measure how easy a text is: the grade of two published scales, its sentences, its hard words.

Both scales count letters, words and sentences and need no list of words:
Automated Readability Index, Smith and Senter 1967 (AMRL-TR-66-220), and the index of Coleman and
Liau 1975 (J Appl Psychol 60:283-284). Each gives a school grade of the United States.

Text comes in blocks: a paragraph, an item of a list, a label. Every block ends its last sentence,
so that a list is not read as one long sentence. A block of fewer than four words that ends in no
full stop is a label ("Next", "Size") and no sentence: counting it would make a page look easier.
A word of the trade that the reader cannot do without ("optician") is counted with the letters of
a short word: `tests/reading_words.csv` lists all of them, with why.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path

SHORT_LETTERS = 4
"""Letters a word of the trade is counted with: those of "lens"."""
LABEL_WORDS = 4
_WORDS = Path(__file__).with_name("reading_words.csv")
_WORD = re.compile(r"[^\W_]+(?:[’'.,:-][^\W_]+)*")
_SENTENCE = re.compile(r"(?<=[.?!])[”\")]?\s+")
_BLOCKS = {"p", "li", "h1", "h2", "h3", "h4", "td", "th", "dt", "dd", "label", "legend", "button",
           "summary", "title", "span", "caption", "text"}  # fmt: skip
_UNREAD = {"style", "script", "title"}


@dataclass(frozen=True)
class Ease:
    """How easy a text is to read.

    Attributes:
        letters: those of all words. signs: letters and digits.
        sentences: all of them, each as its words.
    """

    letters: int
    signs: int
    sentences: tuple[tuple[str, ...], ...]

    @property
    def words(self) -> int:
        """Return how many words are in sentences."""
        return sum(map(len, self.sentences))

    @property
    def ari(self) -> float:
        """Return the grade of Smith and Senter 1967: signs a word and words a sentence."""
        return 4.71 * self.signs / self.words + 0.5 * self.words / len(self.sentences) - 21.43

    @property
    def coleman_liau(self) -> float:
        """Return the grade of Coleman and Liau 1975: letters and sentences in 100 words."""
        of_100 = 100.0 / self.words
        return 0.0588 * self.letters * of_100 - 0.296 * len(self.sentences) * of_100 - 15.8

    def longer_than(self, most: int) -> list[str]:
        """Return the sentences with more words than that."""
        return [" ".join(one) for one in self.sentences if len(one) > most]


def ease_of(blocks: Iterable[str], *, trade: frozenset[str] = frozenset()) -> Ease:
    """Measure a text given as its blocks.

    >>> round(ease_of(["The cat sat on the mat. It was warm."]).ari, 1)
    -5.1
    """
    found = tuple(sentences(blocks))
    letters = signs = 0
    for word in (word for one in found for word in one):
        of_word = SHORT_LETTERS if stem(word, trade) else sum(map(str.isalpha, word))
        letters += of_word
        signs += of_word + (0 if stem(word, trade) else sum(map(str.isdigit, word)))
    return Ease(letters, signs, found)


def sentences(blocks: Iterable[str]) -> Iterator[tuple[str, ...]]:
    """Yield each sentence as its words; labels are none."""
    for block in blocks:
        text = " ".join(block.split())
        for part in _SENTENCE.split(text):
            said = tuple(_WORD.findall(part))
            if len(said) >= LABEL_WORDS or (said and text.endswith((".", "?", "!"))):
                yield said


def stem(word: str, listed: frozenset[str]) -> str:
    """Return the listed word that this is, or whose plural or tense it is; else nothing.

    >>> stem("Opticians", frozenset({"optician"}))
    'optician'
    """
    plain = word.lower().replace("’", "'").removesuffix("'s")
    forms = (plain, plain.removesuffix("s"), plain.removesuffix("es"), plain.removesuffix("ed"),
             plain.removesuffix("ing"), plain.removesuffix("d"))  # fmt: skip
    return next((one for one in forms if one in listed), "")


NAMED = re.compile(r"\((?:varifocals|progressives|bifocals|trifocals)(?: or \w+s)?\)")
"""What wearers call their glasses, in brackets behind the plain words."""


def trade_words() -> frozenset[str]:
    """Return the words of the trade that a wearer's page cannot do without."""
    return frozenset(word for word, row in _table().items() if row["kind"] == "trade")


def hard_words() -> dict[str, str]:
    """Return the words that no page of a wearer uses, each with the plain one to use."""
    return {word: row["say"] for word, row in _table().items() if row["kind"] == "hard"}


def hard_words_in(blocks: Iterable[str]) -> list[str]:
    """Return each hard word of a text with the plain one beside it; phrases too."""
    said, text = hard_words(), " ".join(" ".join(blocks).lower().split())
    text = NAMED.sub("", text)
    single = frozenset(word for word in said if " " not in word)
    found = {stem(word, single) for word in _WORD.findall(text)} - {""}
    found |= {phrase for phrase in said if " " in phrase and phrase in text}
    return [f"{word}: say {said[word]}" for word in sorted(found)]


def blocks_of(html: str) -> list[str]:
    """Return the blocks of text of a page; what is inside a picture is not read."""
    return _Blocks(html).found


class _Blocks(HTMLParser):
    def __init__(self, html: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self._said: list[str] = []
        self._unread = 0
        self.feed(html)
        self._end()

    def handle_starttag(self, tag: str, _attrs: list[tuple[str, str | None]]) -> None:
        self._unread += tag in _UNREAD
        if tag in _BLOCKS or tag in ("div", "tr", "br"):
            self._end()

    def handle_endtag(self, tag: str) -> None:
        self._unread -= tag in _UNREAD
        if tag in _BLOCKS or tag in ("div", "tr"):
            self._end()

    def handle_data(self, data: str) -> None:
        if not self._unread:
            self._said.append(data)

    def _end(self) -> None:
        text = " ".join("".join(self._said).split())
        if text:
            self.found.append(text)
        self._said = []


def _table() -> dict[str, dict[str, str]]:
    with _WORDS.open(encoding="utf-8", newline="") as file:
        return {row["word"]: row for row in csv.DictReader(file)}
