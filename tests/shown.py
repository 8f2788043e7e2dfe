"""Everything a person reads of one case: pages, sheets, letter and command line, without a browser.

The cases are invented: the made ones of tests/made_cases.py under plain names, so that a sign such
as an underscore can only come from the program.
"""

from __future__ import annotations

import html
import json
import re
from collections.abc import Iterator
from contextlib import suppress
from datetime import date
from typing import Any

from streamlit.testing.v1 import AppTest

from app.draw import result_words
from app.form import answers_of_case, change_words
from app.views.order import orders
from app.views.order.sheets import change_sheet, order_sheet, prescriber_letter, wearer_page
from app.views.order.typed_order import compared, notes
from engine.answer.sources import Reading, sources
from engine.assemble import advise
from engine.case.model import Case
from engine.case.read import build_case
from engine.case.results import Result
from engine.collection.followup import follow_up_dates, follow_up_questions
from engine.collection.wearer_page import wearer_sheet
from engine.errors import InputRefusedError
from engine.explain import explain, explain_sources
from engine.files.case_json import case_to_json
from engine.files.changes import changes
from engine.kernel.draws import Draws
from engine.order.letter import letter_fields
from engine.order.make import order_for
from engine.order.pair_change import OldPair
from engine.order.types import OrderDetails, OrderRefusedError
from engine.tables import Judgements
from tests.made_cases import made_case
from tests.orders import DETAILS
from tests.pages import opened, whole

THINGS = ("main screen", "second screen", "papers", "whiteboard", "phone", "counter")
PARTS = ("desk", "meetings", "counter work", "evening", "reading")
VIEWS = ("interview", "desk", "order", "collection", "cases")


def plain_cases(count: int) -> Iterator[tuple[int, Case]]:
    """The first made cases that are possible and small enough for plain names."""
    found = number = 0
    while found < count:
        number += 1
        made = made_case(number)
        if made.spoilt or len(made.content["targets"]) > len(THINGS):
            continue
        with suppress(InputRefusedError):
            case = build_case(_typed(_plainly(made.content, number)))
            Draws(case, judgements=Judgements.standard()).scene(slice(0, 1))
            found += 1
            yield number, case


def _typed(value: Any) -> Any:
    """Round every number to two places, as somebody would type it."""
    if isinstance(value, dict):
        return {name: _typed(one) for name, one in value.items()}
    if isinstance(value, list):
        return [_typed(one) for one in value]
    return round(value, 2) if isinstance(value, float) else value


def _plainly(content: dict[str, Any], number: int) -> dict[str, Any]:
    """Give everything that is named a plain name; what strangers put into the file goes."""
    old = [target["name"] for target in content["targets"]]
    names = dict(zip(old, THINGS, strict=False))
    targets = [{**target, "name": names[target["name"]]} for target in content["targets"]]
    activities = [
        {
            **one,
            "name": PARTS[at % len(PARTS)] + ("" if at < len(PARTS) else f" {at}"),
            "looks": [{**seen, "target": names[seen["target"]]} for seen in one.get("looks", [])],
        }
        for at, one in enumerate(content["activities"])
    ]
    kept = {key: value for key, value in content.items() if key not in ("extensions", "origin")}
    for taped in kept.get("measured_ranges", []):
        if "target" in taped:
            taped["target"] = names[taped["target"]]
    return {**kept, "label": f"A-{number:03}", "targets": targets, "activities": activities}


def visible(text: str) -> str:
    """Return the words of markup: no tags, no style; each block a line of its own."""
    text = re.sub(r"<(style|script)\b.*?</\1>", " ", text, flags=re.DOTALL)
    text = re.sub(r"</?(p|li|h\d|td|th|tr|div|text|title|desc|summary|ul|table|br|caption)\b[^>]*>",
                  "\n", text)  # fmt: skip
    text = html.unescape(re.sub(r"<[^>]+>", " ", text))
    lines = (" ".join(line.split()) for line in text.splitlines())
    return "\n".join(line for line in lines if line)


def sheets_of(case: Case, result: Result) -> dict[str, str]:
    """Every sheet and what the command line prints; an order for each lens that can be made."""
    found = {"explain": explain(case, result), "sources": _sources(case)}
    found["questions"] = "\n".join(
        question.text
        for option in result.options[:2]
        for stage in ("first", "late")
        for question in follow_up_questions(case=case, option=option, stage=stage)  # type: ignore[arg-type]
    )
    dates = follow_up_dates(collected=date(2030, 1, 2))
    plan = result.chosen
    for option in orders.orderable(result, plan=plan)[:3]:
        sheet = wearer_sheet(case=case, result=result, option=option, dates=dates, plan=plan)
        found[f"wearer {option.option}"] = wearer_page(sheet, case=case, option=option)
        for name, given in (("bare", {}), ("full", DETAILS)):
            try:
                made = order_for(
                    case=case,
                    result=result,
                    option=option.option,
                    details=OrderDetails.model_validate(given),
                )
            except OrderRefusedError as refused:
                found[f"refused {option.option}"] = str(refused.reason)
                continue
            found[f"order {option.option} {name}"] = order_sheet(made, written=date(2030, 1, 2))
            fields = letter_fields(case=case, result=result, order=made)
            found[f"letter {option.option} {name}"] = prescriber_letter(fields, order=made)
            old = OldPair(powers=case.wearer.prescription, pd_right_mm=33.0, pd_left_mm=30.0,
                          height_right_mm=17.0, height_left_mm=17.0)  # fmt: skip
            changed = compared(order=made, old=old, case=case)
            said = notes(changed, old=old, case=case)
            found[f"change {option.option}"] = change_sheet(
                changed, notes=said, reference=case.label
            )
    found["line"] = result_words.recommendation_line(case, result).says
    return {name: visible(text) for name, text in found.items()}


def _sources(case: Case) -> str:
    result, read = _answer(case)
    return explain_sources(sources(case, result, read=read))


def pages_of(case: Case) -> dict[str, str]:
    """Each page on a draft that holds this case, with the labels of its fields."""
    page = opened("interview", answers_of_case.answers_of(case))
    found = {}
    for view in VIEWS:
        page.switch_page(f"views/{view}/page.py")
        page.run()
        found[view] = read(whole(page))
    return found


def read(page: AppTest) -> str:
    """The words of a page: what is written, labels, choices, headings, tables."""
    pieces = [visible(one.value) for one in page.markdown]
    for kind in ("title", "header", "subheader", "caption", "error", "warning", "info", "success"):
        pieces += [str(one.value) for one in getattr(page, kind)]
    for kind in ("text_input", "selectbox", "radio", "checkbox", "multiselect", "number_input",
                 "slider", "button", "toggle", "text_area"):  # fmt: skip
        for one in getattr(page, kind):
            pieces.append(one.label)
            pieces += [str(each) for each in getattr(one, "options", ())]
            if getattr(one, "help", None):
                pieces.append(one.help)
    pieces += [one.label for one in page.expander]
    pieces += [one.label for one in page.get("download_button") if hasattr(one, "label")]
    pieces += _charts(page)
    return "\n".join(piece for piece in pieces if piece)


def _charts(page: AppTest) -> list[str]:
    """The words in the specification of each chart: titles of axes, and what is in its data."""
    found: list[str] = []
    for chart in page.get("vega_lite_chart"):
        spec = json.loads(chart.proto.spec)
        found += [title for title in _titles(spec) if isinstance(title, str)]
    return found


def _titles(spec: Any) -> Iterator[Any]:
    if isinstance(spec, dict):
        for key, value in spec.items():
            if key == "title":
                yield value
            yield from _titles(value)
    elif isinstance(spec, list):
        for one in spec:
            yield from _titles(one)


def answered(case: Case) -> Result:
    """The answer of a case."""
    return _answer(case)[0]


_ANSWERS: dict[str, tuple[Result, frozenset[str]]] = {}


def _answer(case: Case) -> tuple[Result, frozenset[str]]:
    """The answer of a case and the judgements it read, worked out once."""
    content = case_to_json(case)
    if content not in _ANSWERS:
        reading = Reading.standard()
        _ANSWERS[content] = advise(case, judgements=reading), frozenset(reading.read)
    return _ANSWERS[content]


def changes_of(earlier: Case, later: Case) -> str:
    """What Kept cases shows of two saves with their answers, side by side."""
    found = changes(
        old_case=case_to_json(earlier),
        new_case=case_to_json(later),
        old_result=answered(earlier).to_json(),
        new_result=answered(later).to_json(),
    )
    tables = change_words.tables_of(found)
    return "\n".join(cell for _, rows in tables for row in rows for cell in row)


def other_pages() -> dict[str, str]:
    """The pages without a case: sources and judgements, the home check, the team's questions."""
    return {view: read(opened(view)) for view in ("evidence", "home", "team")}
