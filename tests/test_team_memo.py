"""The answer in a sentence, and the page and the picture a coordinator takes along."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from html import unescape
from io import BytesIO
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from PIL import Image

from app.form import pdf
from app.views.team.answer import answer_of
from app.views.team.charts import Ends
from app.views.team.law_words import Law
from app.views.team.memo import NOT_CLAIMED, TITLE, Memo, memo_page, memo_picture
from app.views.team.words import LONG, NOTE, PRIVACY, RANGES, TOO_FEW, WHAT
from engine.tables import rows
from engine.team.law import cards, countries
from engine.team.people import Team
from engine.team.policies import POLICIES, Assumptions, Range
from engine.team.tables import Shown, published
from engine.wording import uncapital
from tests.as_read import as_read
from tests.team_examples import gaining

DAY = date(2026, 11, 29)
PRICES = {
    "eye_test": Range(0.0, 0.0),
    "general_pair": Range(300.0, 300.0),
    "screen_pair": Range(100.0, 200.0),
    "desk_move": Range(0.0, 0.0),
    "contribution": Range(50.0, 50.0),
}
ALL = Assumptions(prices=PRICES)


pytestmark = pytest.mark.usefixtures("own_store")


def made(*, by_desk: int = 0, general_h: float = 0.0) -> Team:
    """100 people at monitors; 40 gain 2 h by screen glasses, some of them by the desk alone."""
    gains = np.array([2.0] * 40 + [0.0] * 60)
    return gaining(
        gains,
        group=[4] * 100,
        general=general_h * gains / 2,
        desk=gains * (np.arange(100) < by_desk),
    )


def shown_of(team: Team, assumed: Assumptions = ALL, *, threshold: int = 10) -> tuple[Shown, ...]:
    return published(team, assumed, threshold=threshold, typed=True)


def law_of(country: str) -> Law:
    return Law(country, cards(country=country, today=DAY) if country in countries() else ())


def said_of(team: Team, *, country: str = "", threshold: int = 10, assumed: Assumptions = ALL):
    return answer_of(
        shown_of(team, assumed, threshold=threshold),
        assumed,
        law_of(country),
        worn_assumed=False,
        uptake_said=True,
    )


def test_of_policies_that_bring_as_much_the_one_that_costs_least_is_put_first() -> None:
    """80 h either way; where the desk alone serves 25 people, there are 15 pairs left to buy."""
    found = said_of(made())
    assert found.policy == "screen_pair"
    assert "helps 40 of about 100 people and brings 80 comfortable hours a day" in found.says
    assert "costs 4,000 to 8,000 every 2 years: 25 to 50 a year for each hour" in found.says
    cheaper = said_of(made(by_desk=25))
    assert cheaper.policy == "desk_first"
    assert "80 comfortable hours a day, all together. It costs 1,500 to 3,000" in cheaper.says
    assert "That takes 100 eye tests, 15 pairs of screen glasses and 25 screens" in cheaper.also[0]
    assert any(one.startswith("About as many hours") for one in cheaper.also)


def test_a_policy_that_falls_short_of_the_law_is_not_put_first() -> None:
    team = made(general_h=2.4)
    assert said_of(team).policy == "general_for_all", "96 h"
    for country in ("United Kingdom", "Germany", "Austria"):
        found = said_of(team, country=country)
        assert found.policy == "screen_pair"
        assert any("fall short of the law of" in one for one in found.also)
    assert said_of(team, country="another country").policy == "general_for_all"


def test_no_policy_is_said_to_bring_most_while_another_is_hidden() -> None:
    """General progressives help 5 people here, which is hidden."""
    team = made()
    few = replace(team, general=team.present + 2.0 * (team.row[:, None] <= 5))
    found = said_of(few)
    assert not re.search(r"\bmost\b|\bbest\b", found.says)
    assert any(
        one.startswith("Not compared") and "All-distance glasses for all" in one
        for one in found.also
    )


def test_where_nothing_gains_the_sentence_says_so() -> None:
    none = replace(made(), screen_pair=made().present, screen_pair_moved=made().present)
    found = said_of(none, threshold=5)
    assert found.policy == ""


def memo_of(country: str) -> Memo:
    shown = shown_of(made())
    law = law_of(country)
    answer = answer_of(shown, ALL, law, worn_assumed=True, uptake_said=True)
    moves = tuple(Ends(f"assumption {at}", 10.0 * at, 80.0) for at in range(5))
    return Memo(answer, shown, ALL, law, moves, True, DAY, True)


def plain(page: str) -> str:
    """The words of a page."""
    return as_read(unescape(re.sub(r"<[^>]+>", " ", page.split("</style>")[1])))


@pytest.mark.parametrize("country", countries())
def test_the_memo_says_what_for_whom_what_it_costs_and_what_the_law_asks(country: str) -> None:
    memo = memo_of(country)
    said = plain(memo_page(memo))
    assert TITLE in said
    assert memo.answer.says in said
    assert "29 November 2026" in said
    for policy in POLICIES:
        assert memo.law.called(policy) in said
    assert "50 to 54, monitor" in said
    assert [f"Assumption {at}:" in said for at in range(5)] == [True, True, True, False, False]
    for card in memo.law.cards:
        assert card.meaning in said
        assert card.source in said
        assert card.how_checked in said
    assert "This is not legal advice" in said
    for row in rows("team_evidence"):
        why = uncapital(row["finding"].removeprefix("Not claimed").lstrip(":. "))
        assert (f": {why}" in said) == (row["id"] in NOT_CLAIMED)
    assert "Not claimed" not in said


def test_the_memo_alone_says_what_each_policy_is_and_what_is_bought() -> None:
    memo = memo_of("United Kingdom")
    said = plain(memo_page(memo))
    for policy in POLICIES:
        if policy not in ("nothing", memo.answer.policy):
            assert uncapital(LONG[policy]) in said
    assert "100 eye tests" in said
    assert "in the currency of the prices given" in said
    assert "40 pairs of screen glasses" in said
    assert "yours" not in said
    assert "you gave" not in said


def test_a_missing_price_is_named_once_so_that_the_table_fits_its_paper() -> None:
    """The column of the cost of an hour does not wrap, so that no range in it is parted."""
    unpriced = replace(memo_of("Ireland"), assumed=replace(ALL, prices={}))
    shown = published(made(), unpriced.assumed, threshold=10, typed=True)
    page = memo_page(replace(unpriced, shown=shown))
    rows = re.findall(r'<th scope="row">(.*?)</tr>', page.partition('policies">')[2])
    cells = [re.findall(r"<td>(.*?)</td>", row) for row in rows[: len(POLICIES)]]
    assert any("pair of screen glasses" in cost for _, _, cost, _, _ in cells)
    assert {a_year for _, _, _, a_year, _ in cells} == {"none", "hidden", "no price given"}


def test_no_sentence_of_the_page_shows_an_unfilled_name() -> None:
    assert [one for one in (WHAT, PRIVACY, NOTE, RANGES, TOO_FEW) if "{" in one] == []


def test_the_memo_asks_for_nothing_from_outside_and_runs_nothing() -> None:
    page = memo_page(memo_of("Ireland"))
    assert "http" not in page.replace("http://www.w3.org/2000/svg", "")
    assert "<script" not in page


def test_without_a_country_the_memo_says_that_none_was_chosen() -> None:
    assert "No country was chosen" in plain(memo_page(memo_of("")))


def test_the_picture_alone_has_title_unit_day_and_a_bar_for_each_policy() -> None:
    root = ET.fromstring(memo_picture(memo_of("")))
    space = {"s": "http://www.w3.org/2000/svg"}
    words = " ".join("".join(one.itertext()) for one in root.findall("s:text", space))
    for said in ("Comfortable hours a day gained", "comfortable hours a day", "29 November 2026"):
        assert said in words
    boxes = [
        [float(corner.split(",")[0]) for corner in one.attrib["points"].split()]
        for one in root.findall("s:polygon", space)
    ]
    assert len(boxes) == 3, "general progressives help nobody here, and that is hidden"
    assert "All-distance glasses for all: hidden" in words
    assert "Screen glasses for those who gain: 80" in words


def test_the_picture_alone_is_a_png_with_its_words() -> None:
    drawn = memo_picture(memo_of(""))
    wordless = re.sub(r"<text.*?</text>", "", drawn)
    whole, bare = (Image.open(BytesIO(pdf.png_of(one))).convert("L") for one in (drawn, wordless))
    assert whole.size == bare.size
    assert whole.width == pdf.PNG_WIDTH_PX
    dark, dark_bare = (sum(one.histogram()[:128]) for one in (whole, bare))
    assert dark > 1.5 * dark_bare > 0
