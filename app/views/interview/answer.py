"""Show the interview's answer: what may be taken instead, the day bars and details."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any

import streamlit as st

from app.draw import charts, lens, result_words, side_view
from app.draw.lens import lens_picture
from app.draw.svg import escaped
from app.form import case_of_answers, compute, decimal_sign, plan_taken
from app.form.compute import Answer, Found
from app.form.fields import open_when_asked
from app.form.html import alert, html, listed, picture, quiet, stopped, table
from app.form.plan_taken import LOOKED_THROUGH, PICKED, Offered
from app.shell import state, words
from app.shell.words import GRADE_MEANING
from app.views.interview import rows
from app.views.interview.rows import Row
from engine.answer.sources import told
from engine.case.model import Case
from engine.case.results import OptionResult, PlanResult, Result
from engine.optics.workstation import declination_deg, free_chin_up_deg
from engine.tables import Judgements
from engine.wording import capital, hours, say


def offers(answer: Answer, plan: PlanResult) -> None:
    """Offer free moves, plans as good or with more hours, a button each; what to measure next."""
    result = answer.result
    moves = [capital(move.text) for move in result.recommendation.moves]
    if moves:
        listed(moves, title="Free changes at the desk")
    _offered("Equally good in hours", plan_taken.as_good(result), answer, plan)
    _offered("More hours for more money", plan_taken.more_hours(result), answer, plan)
    stays = plan_taken.without_move(result)
    if stays is not None:
        hours_h = hours(result.plan(stays).comfortable_h)
        name = result_words.plan_name(result.plan(stays), result)
        text = say("interview_h_as_desk_stands", name=capital(name), hours_h=hours_h)
        _offered("If nothing is moved", [Offered(stays, text)], answer, plan)
    if result.chosen is not None and plan.plan != result.chosen.plan:
        st.button(
            f"Back to the recommended plan: {result_words.plan_name(result.chosen, result)}",
            key="take-first",
            on_click=state.put,
            args=(plan_taken.taking(""),),
        )
    for sentence in result_words.next_lines(result):
        html(f'<div class="lg-next"><b>Next:</b> {escaped(sentence)}</div>')


def _offered(title: str, found: Sequence[Offered], answer: Answer, plan: PlanResult) -> None:
    if not found:
        return
    html(f'<p class="lg-quiet"><b>{escaped(title)}</b></p>')
    for one in found:
        said, button = st.columns([5, 2], vertical_alignment="center")
        html(f'<p class="lg-quiet">{escaped(capital(one.text))}</p>', place=said)
        name = result_words.plan_name(answer.result.plan(one.plan), answer.result)
        button.button(
            f"Take {name}",
            key=f"take-{one.plan}",
            disabled=one.plan == plan.plan,
            width="stretch",
            on_click=state.put,
            args=(plan_taken.taking(one.plan),),
        )


def first_look(answer: Answer, plan: PlanResult | None) -> tuple[Row, list[Row]]:
    """Show day bars and the choice of a row; return the chosen row and all that are shown.

    plan: the one in view, which is looked through until another row is picked by hand.
    """
    st.header("The day through each lens", anchor=False)
    drawn = st.container()
    key_of_grades, more = st.columns([3, 2], vertical_alignment="center")
    every = more.toggle("Show every kind of lens", key=state.seed("view.every", False))
    state.keep("view.every", every)
    plans = [] if plan is None else [plan]
    which = rows.all_rows if every else rows.first_look
    found = which(answer.case, answer.result, plans=plans)
    by_name = {row.name: row for row in found}
    picked = state.held(PICKED) and state.held(LOOKED_THROUGH) in by_name
    if plan is not None and not picked:
        state.put({LOOKED_THROUGH: plan.plan})
    key = state.among(LOOKED_THROUGH, list(by_name))
    bars = rows.bars(found, chosen=state.shown(LOOKED_THROUGH))
    drawn.vega_lite_chart(
        spec=decimal_sign.in_chart(charts.day_bars(bars)),
        theme=None,
        width="stretch",
        alt=decimal_sign.shown(charts.alt_text(bars)),
    )
    html(charts.key(), place=key_of_grades)
    worn = rows.worn_lines(found)
    if worn:
        items = "".join(f"<li>{escaped(line)}</li>" for line in worn)
        html(f'<ul class="lg-quiet lg-worn">{items}</ul>')
    chosen = st.radio(
        "Look through",
        list(by_name),
        key=key,
        format_func=lambda name: by_name[name].label,
        horizontal=True,
        on_change=state.put,
        args=({PICKED: True},),
    )
    state.keep(LOOKED_THROUGH, chosen)
    return by_name[chosen], found


ANY_AGE = "50"
"""The desk is drawn before the age is told; no geometry depends on it."""
OUT_OF_DATE = say("interview_out_of_date")


def nothing_yet(answer: Answer | None, answers: Mapping[str, Any]) -> None:
    """Show the empty and the stopped state of the right-hand side."""
    if answer is None:
        st.header("The desk so far", anchor=False)
        _desk_so_far(answers)
        quiet(say("interview_six_answers_enough_for"))
        return
    stopped(answer.result)


def out_of_date() -> None:
    """Say that what stands below is of the last answers that could be used."""
    html(f'<div class="lg-flag" style="margin-top: 1rem">{OUT_OF_DATE}</div>')


def _desk_so_far(answers: Mapping[str, Any]) -> None:
    """Draw the main screen as told before there is a case."""
    case = case_of_answers.ask({**answers, "wearer.age_years": ANY_AGE}).case
    if case is not None:
        _screen_alone(case)


NO_ADD = "no_add_known"
"""A caution about an answer that a case from home does not get before the add is typed."""


def without_powers(answer: Answer, to_type: str) -> None:
    """Show the desk and what to mind of a case from home, which compares no lenses yet."""
    st.header("The desk, as measured at home", anchor=False)
    _screen_alone(answer.case)
    quiet(say("interview_type_form_compare_lenses", to_type=to_type))
    minded = tuple(one for one in answer.result.cautions if one.id != NO_ADD)
    _cautions(answer.result.model_copy(update={"cautions": minded}))


def _screen_alone(case: Case) -> None:
    """Draw the main screen while nothing is known of the eyes: geometry alone."""
    thing = side_view.seen(case.targets[0], case=case)
    down = declination_deg(below_eye_cm=-thing.above_cm, horizontal_cm=thing.ahead_cm)
    slope = Judgements.standard().free_posture_slope
    free = float(free_chin_up_deg(declination_deg=down, slope=slope))
    posture = side_view.Posture("Natural head position", free, free, chosen=False)
    picture(side_view.side_view(target=thing, posture=posture, name="side-desk"))


REASONS = "Reasons, and how sure the answer is"
GOOD_ENOUGH = "If a little blur is good enough"
RESTS_ON = "What this answer rests on"
FIGURES = "Head, eyes and power for each thing looked at"
THE_LENS = "The lens: power, clear zone, and where each thing is seen"
FOLDED = (REASONS, GOOD_ENOUGH, RESTS_ON, FIGURES, THE_LENS)
"""Parts that are worked out and drawn while they are open."""


def for_the_optician(answer: Answer, row: Row, shown: Sequence[Row], *, old: bool) -> None:
    """Show, folded, cautions first, open where one fires; then reasons, numbers, the lens.

    old: a value is refused, so nothing is said of how sure the answer is.
    """
    _cautions(answer.result, row.options)
    folded: dict[str, Callable[[], None]] = {
        REASONS: partial(_reasons, answer, old=old),
        GOOD_ENOUGH: partial(_good_enough, answer),
        RESTS_ON: partial(_sources, answer),
        FIGURES: partial(_figures, answer, row, shown),
        THE_LENS: partial(_lenses, answer, row),
    }
    for title, draw in folded.items():
        with open_when_asked(title) as is_open:
            if is_open:
                draw()


def _reasons(answer: Answer, *, old: bool) -> None:
    meanings = [f"{capital(grade)}: {said}." for grade, said in GRADE_MEANING.items()]
    groups = {**result_words.reason_groups(answer.result), "The four grades": meanings}
    if old:
        groups[result_words.HOW_SURE] = [OUT_OF_DATE]
    for title, lines in groups.items():
        listed(lines, title=title)


def _lenses(answer: Answer, row: Row) -> None:
    for option in row.options:
        _lens(answer, option)


def _cautions(result: Result, options: Sequence[OptionResult] = ()) -> None:
    """List what to mind of the wearer, the desk and these lenses; open where there is anything."""
    found = result_words.caution_lines(result, options)
    with st.expander(f"Cautions: {len(found)}", expanded=bool(found)):
        listed(found or [say("interview_none_for_lens_day")])


def _good_enough(answer: Answer) -> None:
    """Show what is first if text need not be sharp, when asked for: it takes a second search."""
    lead = say("interview_answer_for_text_without")
    found = _when_asked(answer, compute.good_enough_of, lead, "Compare", key="good-enough")
    if found is not None:
        quiet(found or say("interview_no_lens_put_first"))


def _sources(answer: Answer) -> None:
    """List the papers and judgements that this answer used, when asked for: it takes a second."""
    lead = say("interview_every_paper_judgement_behind")
    found = _when_asked(answer, compute.sources_of, lead, "List them", key="list-sources")
    for strength, lines in told(found or ()):
        listed(lines, title=strength)


def _when_asked(
    answer: Answer, find: Callable[[Answer], Found], lead: str, button: str, *, key: str
) -> Found | None:
    """Return what a slow search found, with a button that starts it; None until it is pressed."""
    kept = state.results()
    known = compute.known(kept, find, answer)
    if known is not None:
        return known
    quiet(lead)
    return compute.found(kept, find, answer) if st.button(button, key=key) else None


def _figures(answer: Answer, row: Row, shown: Sequence[Row]) -> None:
    for option in row.options:
        words = f"{result_words.option_name(option)}: {result_words.design_words(option)}"
        html(f'<p class="lg-quiet"><b>{escaped(words)}</b></p>')
        as_well = result_words.equivalents(option)
        if as_well:
            listed(list(as_well), title="Designs that suit this day as well")
    needs = result_words.need_rows(answer.result)
    html(table("What each thing looked at needs", result_words.NEED_HEADINGS, needs))
    lenses = {option.option: option for one in shown for option in one.options}
    through = result_words.target_rows(list(lenses.values()))
    html(table("The centre of each thing through each lens", result_words.TARGET_HEADINGS, through))
    rules = result_words.rule_rows(answer.result)
    html(table("Rules of thumb here", result_words.RULE_HEADINGS, rules))


def without_field(homeless: Sequence[str]) -> None:
    """Show the refusals of values that have no field of their own in view."""
    for refused in homeless:
        html(alert(refused))


def draft_foot() -> None:
    """Offer the deletion of the answers, and how long they are kept."""
    st.button(words.DELETE_ANSWERS, on_click=state.forget, type="secondary")
    st.caption(words.DELETE_NOTE)


def _lens(answer: Answer, option: OptionResult) -> None:
    points = lens.gaze_points(option, answer.case)
    drawn = lens_picture(
        heading=result_words.option_name(option),
        power_at=lens.power_at(option, answer.case),
        frame=lens.frame_shape(answer.case),
        points=points,
    )
    picture(drawn)
