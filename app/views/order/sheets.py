"""Sheets on paper, one self-contained HTML file each: the order, the wearer's page, a letter.

One A4 or Letter page, printed from the browser. No script and nothing from outside; every word of
a user is escaped.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from html import escape

from app.draw.side_view import Posture, glasses_of, seen, side_view
from app.form.paper import bullets, page, part, table
from app.views.order.typed_order import HEADINGS, change_rows
from app.views.order.words import (
    EYE_HEADINGS,
    check_rows,
    eye_rows,
    frame_rows,
    lens_words,
    made_words,
    making_lines,
)
from engine.case.model import Case
from engine.case.results import OptionResult
from engine.collection.wearer_page import WearerSheet
from engine.order.letter import LetterField
from engine.order.pair_change import PairChange
from engine.order.types import Order
from engine.units import day_words
from engine.wording import capital, say

ONE_PAIR = "One pair."
FEW, MOST_LINES = 4, 30
CHECKS, NOTES = "Checks by geometry", "Notes"
PARTS = (CHECKS, NOTES)
"""What a practice may leave out of the order; the rest is the order itself."""


def order_sheet(
    order: Order,
    *,
    pair: str = "",
    parts: Sequence[str] = PARTS,
    letter_head: Sequence[str] = (),
    written: date | None = None,
) -> str:
    """Return the order on one page, for the laboratory; what is missing stands first.

    pair: which pair of how many it is, as a sentence. parts: of `PARTS`, those that go in.

    Cautions stay on the page of the optician: they speak of the wearer's health and day.
    """
    body = [
        _head(letter_head),
        "<h1>Spectacle lens order</h1>",
        f"<p>{_about(order, written)} {escape(pair or ONE_PAIR)} {escape(lens_words(order))}</p>",
        _state(order),
        table(EYE_HEADINGS, eye_rows(order, targets=False)),
        f'<div class="columns"><div>{_frame(order)}</div><div><h2>Manufacture and glazing</h2>'
        f"{bullets(making_lines(order))}</div></div>",
    ]
    checks = [f"{capital(outcome)}: {says}" for says, outcome, _ in check_rows(order)]
    for heading, lines in ((CHECKS, checks), (NOTES, order.notes)):
        if lines and heading in parts:
            body += [f"<h2>{heading}</h2>", bullets(lines, small=True)]
    body.append(_signed("Ordered for the practice by", "Taken by the laboratory"))
    return page("Spectacle lens order", "".join(body))


def wearer_page(sheet: WearerSheet, *, case: Case, option: OptionResult) -> str:
    """Return the page the wearer takes home, with a picture of the first thing looked at."""
    body = [
        f'<div class="{"large" if len(sheet.looks) <= FEW else "many"}">',
        f"<h1>My glasses</h1><p>{escape(sheet.lens)}</p>",
        "" if sheet.desk is None else f'<p class="say">{escape(sheet.desk)}</p>',
        part("When to wear them", sheet.when),
        _picture(case, option),
        "<h2>Where to look</h2>",
        f'<div class="looks">{_looks(sheet)}</div>',
        part("What they can and cannot do", [*sheet.limits, *sheet.safety]),
        part("How to handle them", sheet.handling),
        part("The first days", sheet.first_days),
        part("When to come back", sheet.come_back),
        f"<h2>When not to wait</h2><p>{escape(sheet.warning)}</p>",
        bullets(sheet.warnings),
        "</div>",
    ]
    return page("My glasses", "".join(body))


def prescriber_letter(
    fields: Sequence[LetterField],
    *,
    order: Order,
    letter_head: Sequence[str] = (),
    written: date | None = None,
) -> str:
    """Give the letter with the ticked fields; of the order its reference, laboratory and frame."""
    crowded = sum(len(field.lines) for field in fields) > MOST_LINES
    body = [
        f'<div class="{"many" if crowded else "few"}">',
        _head(letter_head),
        "<h1>To the prescriber</h1>",
        f"<p>{_about(order, written)}</p>",
        f"<p>{say('order_letter_lead')}</p>",
    ]
    for field in fields:
        body += [f"<h2>{escape(field.title)}</h2>", bullets(map(capital, field.lines))]
    body.append(
        "<h2>Your answer</h2><p>Agreed / agreed with these changes / please send the wearer:</p>"
        "<p>&#160;</p>"
    )
    body += [_signed("For the practice", "The prescriber"), "</div>"]
    return page("To the prescriber", "".join(body))


def change_sheet(changes: Sequence[PairChange], *, notes: Sequence[str], reference: str) -> str:
    """Return the old pair beside the ordered one on one page; what is pointed out stands first."""
    body = [
        "<h1>Old pair and new pair</h1>",
        f"<p>{escape(say('order_change_reference', reference=reference))}</p>",
        part("Look at this", notes),
        table(HEADINGS, change_rows(changes)),
        f"<p>{say('order_change_by_hand')}</p>",
    ]
    return page("Old pair and new pair", "".join(body))


def _head(lines: Sequence[str]) -> str:
    return f'<p class="head">{"<br>".join(map(escape, lines))}</p>' if lines else ""


def _about(order: Order, written: date | None) -> str:
    """Write reference and day, and laboratory and frame where they are told, as HTML."""
    day = "" if written is None else f" {day_words(written)}."
    return f"Reference: {escape(order.label)}.{day} {escape(made_words(order))}"


def _signed(*who: str) -> str:
    """Return a line each to sign on."""
    lines = "".join(f"<p>{escape(one)} (signature, date):</p>" for one in who)
    return f'<div class="signed">{lines}</div>'


def _looks(sheet: WearerSheet) -> str:
    return "".join(
        f"<p><strong>{escape(capital(look.target))}</strong>: {escape(' '.join(look.says))}</p>"
        for look in sheet.looks
    )


def _state(order: Order) -> str:
    if order.complete:
        return '<p class="state">Complete.</p>'
    failed = [one.says for one in order.checks if one.passed is False]
    missing = [f"{gap.missing}" for gap in order.missing]
    lines = [*(f"Check fails: {one}" for one in failed), *missing]
    items = "".join(f"<li>{escape(one)}</li>" for one in lines)
    said = say("order_not_complete", missing=len(missing), failing=len(failed))
    return (
        f'<p class="state">{said}</p>'
        f'<ul class="small{" two" if len(lines) > 4 else ""}">{items}</ul>'
    )


def _frame(order: Order) -> str:
    lines = [f"{name} {value}: {origin}" for name, value, origin in frame_rows(order)]
    lines.append("Heights are from the lowest point of the lens")
    return f"<h2>Frame</h2>{bullets(lines)}"


def _picture(case: Case, option: OptionResult) -> str:
    if not case.targets:
        return ""
    target, found = case.targets[0], option.targets[0]
    clear = tuple(row.row for row in found.rows if row.chin_up_deg is not None)
    return side_view(
        target=seen(target, case=case),
        posture=Posture(
            heading="With these glasses",
            chin_up_deg=found.centre.chin_up_deg,
            drawn_deg=found.centre.free_chin_up_deg,
            clear_rows=clear,
        ),
        glasses=glasses_of(case),
        desk_cm=target.desk_below_eye_cm,
        name="worn",
    )
