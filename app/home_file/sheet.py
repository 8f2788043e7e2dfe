"""Write the question sheet to fill in by hand, one A4 page, in the order of the Interview."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from itertools import zip_longest
from pathlib import Path

from app.home_file import pictures
from app.home_file.questions import say
from engine import tables
from engine.home.answers import SCREEN_NAMES, choices
from engine.home.numbers import number
from engine.wording import capital, length

_SCREEN = ("blank_screen", "blank_laptop", "blank_side", "blank_size", "blank_to_middle",
           "blank_to_top", "fact_hours", "blank_touch", "blank_fixed")  # fmt: skip
_OTHER = ("blank_other", "blank_to_page", "fact_hours")


FOLDER = Path(__file__).parent


def sheet_page() -> str:
    """Return the sheet as an HTML page of its own, to print, white in the dark too."""
    style = (FOLDER / "style.css").read_text(encoding="utf-8")
    style = style.replace("color-scheme: light dark", "color-scheme: light")
    style = style.replace("@media screen and (prefers-color-scheme: dark)", "@media not all")
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{say('blank_title')}</title><style>{style}</style></head>"
        f'<body><main id="plain" class="paper">{question_sheet()}</main></body></html>'
    )


def question_sheet() -> str:
    """Return the sheet as HTML without a page around it; it holds nothing of anybody."""
    paper = say("blank_paper", a4=length(number("a4_long_cm")),
                 letter=length(number("letter_long_cm")))  # fmt: skip
    return "".join(
        [
            f"<h1>{say('blank_title')}</h1>",
            f"<p>{say('blank_lead')} {say('sheet_name')}</p>",
            f"<p><b>{say('blank_signs')}</b></p>{_boxes('flags')}",
            _asked("bothers"),
            _asked("glasses"),
            _asked("age"),
            f"<h2>{escape(_title('screens'))}</h2>",
            f'<div class="how">{pictures.measuring_distance(name="d")}'
            f"{pictures.measuring_height(name='h')}<div>"
            f"<p>{say('blank_measure')}</p><p>{paper}</p>"
            f'<p class="boxed"><b>{say("blank_unit")}</b>{_spans(choices("unit").values())}</p>'
            f"<p><b>{say('blank_eyes')}</b> ______________</p></div></div>",
            _table(_SCREEN, [[capital(name)] for name in SCREEN_NAMES]),
            _table(
                (*_OTHER, *_OTHER),
                zip_longest(choices("reading").values(), choices("others").values(), fillvalue=""),
            ),
            _asked("coping"),
            f'<p class="boxed"><b>{say("lens_part")}</b>',
            f"{_spans(choices('lens_part').values())}</p>",
            _asked("needs"),
            _asked("tell"),
        ]
    )


def _asked(question: str) -> str:
    return f"<h2>{escape(_title(question))}</h2>{_boxes(question)}"


def _title(question: str) -> str:
    return tables.by_id("home_questions")[question]["title"]


def _boxes(question: str) -> str:
    return f'<p class="boxed">{_spans(choices(question).values())}</p>'


def _spans(labels: Iterable[str]) -> str:
    return "".join(f"<span>{escape(label)}</span>" for label in labels)


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a table to fill in: what is named in a row stands before empty cells."""
    named = ("blank_screen", "blank_other")
    head = "".join(
        f'<th scope="col"{" class=named" if one in named else ""}>{say(one)}</th>' for one in heads
    )
    blank = len(heads)
    body = "".join(
        "<tr>"
        + "".join(
            f'<th scope="row">{escape(name)}</th>' + "<td></td>" * (blank // len(row) - 1)
            for name in row
        )
        + "</tr>"
        for row in rows
    )
    return f'<table class="blanks"><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>'
