"""The page for a memo, one self-contained HTML file: the answer on one A4. Pure.

No script and nothing from outside. It holds only what may be shown: counts blurred and rounded.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from html import escape
from itertools import zip_longest

from app.form.paper import SHEET, bullets, page, table
from app.views.team import law_words
from app.views.team import words as team_words
from app.views.team.answer import Answer
from app.views.team.charts import Ends, figure
from app.views.team.law_words import Law
from app.views.team.picture import ranges_svg
from engine.tables import rows
from engine.team.law import NOT_LEGAL_ADVICE, RuleCard
from engine.team.policies import Assumptions
from engine.team.privacy import DEFAULT_THRESHOLD, HIDDEN
from engine.team.tables import Shown
from engine.units import day_words
from engine.wording import capital, say, uncapital

TITLE = "Glasses for screen work: what to pay for"
PICTURE_TITLE = "Comfortable hours a day gained, all together"
AXIS = "comfortable hours a day"
MOST_MOVES = 3
COLUMNS = (0, 1, 2, 6, 8, 9)
"""Columns of the policies side by side that the memo has room for."""
HEADS = (
    "Policy",
    "People helped",
    "Hours a day gained",
    "Cost",
    "Cost a year for each hour",
)
COST, ADDED, A_YEAR = 6, 7, 8
"""What the workers add has no column of its own here: it stands with the cost, as do the prices
that are missing."""
NO_FIGURE = ("nothing", "none", "no price given", HIDDEN)
GROUP_COLUMNS = ("Age and screen", "People", "Helped", "Hours a day gained")
NOT_CLAIMED = ("neck_pain", "return")
"""Rows of team_evidence.csv that say what is not claimed."""
_STYLE = """
@page { size: A4; margin: 8mm 10mm; }
body { font-size: 8pt; line-height: 1.24; max-width: 18.8cm; }
h1 { font-size: 15pt; margin-bottom: 0.1cm; }
h2 { font-size: 10pt; margin: 0.16cm 0 0.03cm; }
p, ul { margin: 0.03cm 0; } ul { padding-left: 0.45cm; }
th, td { padding: 0.02cm 0.2cm 0.02cm 0; }
thead th { vertical-align: bottom; }
.say { font-size: 10pt; line-height: 1.25; font-weight: 600; margin: 0.12cm 0; }
.columns { grid-template-columns: 1fr 1fr; } .columns table { font-size: 7.5pt; }
svg { display: block; width: 100%; height: auto; }
.small { font-size: 7pt; line-height: 1.2; }
.columns svg { margin-top: 0.15cm; }
.policies :is(th:first-child, td:nth-child(-n+3), td:nth-child(5)) { white-space: nowrap; }
.policies th:nth-child(4) { width: 15%; } .policies th:last-child { width: 22%; }
@media print { body { padding: 0; max-width: none; } }
@media (max-width: 640px) { body { font-size: 11pt; } .small { font-size: 10pt; }
  .columns { grid-template-columns: 1fr; } .scroll { overflow-x: auto; }
  .policies table { min-width: 56em; } .columns table { font-size: 10pt; } }
"""


@dataclass(frozen=True)
class Memo:
    """What stands on the page.

    Attributes:
        moves: what moves the hours of the policy put first most, the largest first.
        moves_whole: they hold what is not known of eyes and desks, too.
        typed: of a table of bands, whose counts are rounded only.
    """

    answer: Answer
    shown: tuple[Shown, ...]
    assumed: Assumptions
    law: Law
    moves: tuple[Ends, ...]
    moves_whole: bool
    day: date
    typed: bool
    threshold: int = DEFAULT_THRESHOLD

    @property
    def first(self) -> Shown | None:
        """Return what is shown of the policy put first; None where none is."""
        return next((one for one in self.shown if one.policy == self.answer.policy), None)


def memo_picture(memo: Memo) -> str:
    """Return the picture alone, to be put into another page."""
    return ranges_svg(
        team_words.bars(memo.shown, "gained_h", memo.law),
        title=PICTURE_TITLE,
        axis=f"{AXIS}: likely (low to high)",
        note=say("team_geometry_not_trial_counts", day=day_words(memo.day), counts=_counts(memo)),
    )


def _counts(memo: Memo) -> str:
    return "rounded to 5" if memo.typed else "blurred and rounded to 5"


def memo_page(memo: Memo) -> str:
    """Return the whole page."""
    people = next((one.total.people for one in memo.shown if one.total is not None), None)
    about = "" if people is None else f" for about {figure(people)} people at screens"
    picture = "" if team_words.all_hidden(memo.shown) else memo_picture(memo)
    whom, moves, unclaimed = map("".join, (_for_whom(memo), _moves(memo), _unclaimed()))
    body = [
        f"<h1>{TITLE}</h1>",
        f"<p>{escape(say('team_memo_lead', day=day_words(memo.day), about=about))}</p>",
        f'<p class="say">{escape(memo.answer.says)}</p>',
        *(f"<p>{escape(one)}</p>" for one in memo.answer.also),
        "<h2>The policies side by side</h2>",
        f'<div class="policies">{_policies(memo)}</div>',
        bullets(_meanings(memo), small=True, fold=False),
        f'<div class="columns"><div>{picture}</div><div>{whom}</div></div>',
        f'<div class="columns"><div>{unclaimed}</div><div>{moves}</div></div>',
        *_law(memo.law, memo.shown),
        f'<p class="small">{escape(_small_print(memo))}</p>',
    ]
    return page(TITLE, "".join(body), style=SHEET + _STYLE)


def _meanings(memo: Memo) -> Iterable[str]:
    """Say what each policy is, for a reader who never saw the page; the first is told above."""
    for one in memo.shown:
        if one.policy not in ("nothing", memo.answer.policy):
            yield f"{memo.law.called(one.policy)}: {uncapital(team_words.LONG[one.policy])}."


def _small_print(memo: Memo) -> str:
    said = [say("team_memo_counts", counts=_counts(memo)), law_words.tests_words(memo.law)]
    if any(memo.assumed.prices.values()):
        said.append(say("team_memo_currency"))
    return " ".join(said)


def _policies(memo: Memo) -> str:
    rows = team_words.policy_cells(memo.shown, memo.assumed, memo.law)
    for row in rows:
        if row[A_YEAR] == row[COST]:
            row[A_YEAR] = row[COST].partition(":")[0]
        row[COST] += "" if row[ADDED] in NO_FIGURE else f"; paid by workers {row[ADDED]}"
    first = None if memo.first is None else memo.shown.index(memo.first)
    heads = [*HEADS, team_words.headings(memo.law)[-1]]
    return _scrolled(table(heads, [[row[at] for at in COLUMNS] for row in rows], first=first))


def _scrolled(markup: str) -> str:
    """Return a table that a phone moves sideways."""
    return f'<div class="scroll" tabindex="0">{markup}</div>'


def _for_whom(memo: Memo) -> Iterable[str]:
    one = memo.first
    if one is not None:
        yield f"<h2>For whom: {escape(memo.law.called(one.policy))}</h2>"
        yield _scrolled(table(GROUP_COLUMNS, team_words.group_cells(one.groups)))
        said = team_words.why_groups(one, memo.threshold, memo.assumed)
        yield f'<p class="small">{escape(said)}</p>'


def _moves(memo: Memo) -> Iterable[str]:
    moved = [one for one in memo.moves if one.at_low != one.at_high][:MOST_MOVES]
    one = memo.first
    if moved and one is not None and one.total is not None:
        yield f"<h2>What changes the {figure(one.total.gained_h.mid)} hours most</h2>"
        yield bullets(
            (f"{capital(one.label)}: {one.says} hours a day" for one in moved),
            small=True,
            fold=False,
        )
        if not memo.moves_whole:
            yield f'<p class="small">{say("team_memo_not_included")}</p>'


def _law(law: Law, shown: Sequence[Shown]) -> Iterable[str]:
    if not law.country:
        yield f"<h2>What the law requires</h2><p>{say('team_memo_no_country')}</p>"
        return
    yield f"<h2>What the law of {escape(law.of)} requires at least</h2>"
    yield bullets(_rules(law.cards), small=True, fold=False)
    yield f"<p>{say('team_memo_why')}</p>"
    paid = [one for one in shown if one.policy != "nothing"]
    yield bullets(law_words.law_whys(paid, law), small=True, fold=False)
    yield f"<p><strong>{escape(NOT_LEGAL_ADVICE)}</strong></p>"


def _rules(cards: Sequence[RuleCard]) -> Iterable[str]:
    """Say each rule with its source; how it was checked stands once for rules checked alike."""
    for card, after in zip_longest(cards, cards[1:]):
        checked = f"Checked on {day_words(card.date_checked)}: {card.how_checked}."
        alike = after is not None and _checked(after) == _checked(card)
        said = [card.meaning, f"{law_words.where(card)}.", "" if alike else checked, card.warning]
        yield " ".join(filter(None, said))


def _checked(card: RuleCard) -> tuple[date, str]:
    return card.date_checked, card.how_checked


def _unclaimed() -> Iterable[str]:
    yield "<h2>What is not claimed</h2>"
    yield bullets(_not_claimed(), small=True, fold=False)


def _not_claimed() -> Iterable[str]:
    for row in rows("team_evidence"):
        if row["id"] in NOT_CLAIMED:
            why = row["finding"].removeprefix("Not claimed").lstrip(":. ")
            yield f"That {uncapital(row['claim'])}: {uncapital(why)}"
    yield say("team_hours_make_work_better")
