"""The Team page without a browser, on an invented team: the numbers and words a person reads."""

from __future__ import annotations

import csv
import io
import re
from datetime import date

import numpy as np
import pytest
from streamlit.testing.v1 import AppTest

from app.draw.svg import escaped
from app.shell import drafts, words
from app.views.team import charts as team_charts
from app.views.team import running
from app.views.team import words as team_words
from app.views.team import work as team_file
from app.views.team import work as team_work
from app.views.team.law_words import Law
from engine import tables
from engine.errors import InputRefusedError
from engine.roster.answer import Settings
from engine.team.people import team_of
from engine.team.policies import Assumptions, Range
from engine.team.privacy import Session
from engine.team.sensitivity import Ends, moves
from engine.team.tables import export_csv, published
from tests.pages import markup, opened, pressed, typed, whole, widget
from tests.team_examples import gaining, total

LONGEST_S = 60
HEADER = "ref,age_years,screen_kind,screen_in,hours_screen,present_kind"
PEOPLE = 80
"""Half gain 2 h through screen glasses, all of one group; a quarter of these by the desk."""


def invented():
    """40 people whom screen glasses give 2 h, 40 whom they give nothing; one group."""
    return gaining([2.0] * 40 + [0.0] * 40, group=[2] * PEOPLE)


@pytest.fixture(autouse=True)
def _invented(own_drafts, monkeypatch):  # noqa: ARG001
    def searched(rows, present, *, progress):
        progress(1.0)
        return team_work.Found(team_work.Asked(rows.good, present), invented(), rows.typed)

    def ends_of(rows, present, *, progress):  # noqa: ARG001
        return Ends(invented(), {"add_d": (invented(), invented())})

    monkeypatch.setattr(team_work, "searched", searched)
    monkeypatch.setattr(team_work, "ends_of", ends_of)
    monkeypatch.setattr(running, "AT_ONCE_S", LONGEST_S)


def policy_row(page: AppTest) -> str:
    """The row of screen glasses in the table of policies."""
    named = 'scope="row">Screen glasses for those who gain</th><td'
    return next(line for line in markup(page).split("<tr>") if named in line)


def computed(country: str = "", **texts: str) -> AppTest:
    """The page with the invented team computed, of whom all take it up unless texts say another."""
    page = opened("team")
    if country:
        widget(page, "selectbox", "Country").set_value(country)
    texts = {"Uptake_among": "100"} | texts
    page = typed(page, **{"40_to_49,_at_a_monitor": str(PEOPLE)}, **texts)
    return pressed(page, "Compute for 80 people")


def test_the_empty_page_asks_who_is_in_the_team_and_shows_no_figures():
    page = opened("team")
    assert "Say who is in the team" in markup(page)
    assert not [one for one in page.button if one.label.startswith("Compute")]
    assert "lg-table" not in markup(page)


def test_policies_stand_side_by_side_in_numbers_worked_by_hand():
    # 40 of 80 gain 2 h each, half of the offered take it up: 20 helped, 40 h, 40 tests, 20 pairs.
    page = computed(Uptake_among="50", One_eye_test="10", One_pair_of_screen_glasses="100-200")
    row = policy_row(page)
    # 2,400 to 4,400 over two years for 40 h a day
    cells = ["20", "40", "40", "20", "0", "2,400 to 4,400", "nothing", "30 to 55"]
    plain = row.replace(' class="lg-figure"', "")
    assert "".join(f"<td>{escaped(cell)}</td>" for cell in cells) in plain
    assert escaped(
        "Pay for “Screen glasses for those who gain”. If 50 % of those offered accept, it helps 20 "
        "of about 80 people and brings 40 comfortable hours a day, all together. It costs 2,400 to "
        "4,400 every 2 years: 30 to 55 a year for each hour a day gained."
    ) in markup(page)


def test_where_no_uptake_is_said_three_are_shown_and_the_sentence_says_so():
    page = computed(Uptake_among="")
    assert escaped("If 30 to 90 % of those offered accept (no uptake was given)") in markup(page)
    row = next(line for line in markup(page).split("<tr>") if "12 helped" in line)
    assert "24 h a day" in row
    assert "36 helped" in row
    assert "72 h a day" in row
    for typed_here in (computed(), computed(Uptake_among="30-90")):
        assert "which you did not give" not in markup(typed_here)
        assert "no uptake was given" not in markup(typed_here)


def test_tests_are_counted_for_all_ages_where_the_law_gives_them():
    assert "Eye tests are counted for people of all ages" in markup(computed("United Kingdom"))
    assert "not counted for those too young" in markup(computed("United States"))


def test_each_policy_says_what_the_law_makes_of_it():
    page = computed(country="Ireland")
    assert escaped("By the law of Ireland") in markup(page)
    assert escaped("No change (less than the law asks)") in markup(page)
    row = next(line for line in markup(page).split("<tr>") if 'row">Fixed contribution' in line)
    assert escaped("falls short where a special pair is needed") in row
    assert escaped("A general supplement to pay does not meet the duty") in markup(page)
    assert escaped("“Fixed contribution” fall") in markup(page)
    page = computed(country="another country")
    assert "we do not know" in policy_row(page)
    assert "no country chosen" in policy_row(computed())


def test_a_blank_price_is_no_zero_and_a_zero_is_a_price():
    without = computed(One_eye_test="0")
    assert escaped("no price given: pair of screen glasses") in markup(without)
    free = computed(One_eye_test="0", One_pair_of_screen_glasses="0")
    row = policy_row(free)
    assert "<td>0</td><td>nothing</td>" in row


def test_a_refused_price_is_named_under_its_field_and_the_figures_say_so():
    page = computed(One_eye_test="30-20")
    assert escaped("30-20 cannot be used. Allowed: 0 to 1,000,000, or two such numbers") in markup(
        page
    )
    assert "A value typed above does not fit" in markup(page)


def test_a_smallest_group_under_five_is_refused():
    page = computed(Smallest_group="4")
    assert escaped("4 is too low. Allowed: a whole number of people, 5 to 1000") in markup(page)
    assert "a group is shown once 10 of its people are helped" in markup(page)


def test_charts_have_their_numbers_as_text():
    page = computed()
    charts = [one.proto for one in page.get("vega_lite_chart")]
    helped = next(one.alt for one in charts if one.alt.startswith("People helped"))
    assert "Screen glasses for those who gain: 40" in helped
    assert "No change: 0" in helped


def test_where_every_policy_is_hidden_no_chart_is_empty():
    page = computed(Smallest_group="100")
    assert escaped(team_words.TOO_FEW) in markup(page)
    assert not page.get("vega_lite_chart")
    assert "hidden" in policy_row(page)


def test_a_changed_team_is_out_of_date_until_computed_again():
    page = typed(computed(), **{"50_to_54,_at_a_monitor": "20"})
    assert "Compute again" in markup(page)
    assert "Compute again" not in markup(pressed(page, "Compute for 100 people"))


def test_a_file_with_one_person_less_is_not_shown_after_the_first(monkeypatch):
    kept = invented()
    shown_before = Session()
    assert shown_before.may_show(kept.digests()[1:])

    def searched(rows, present, *, progress):
        progress(1.0)
        return team_work.Found(team_work.Asked(rows.good, present), kept)

    monkeypatch.setattr(team_work, "searched", searched)
    page = typed(opened("team"), **{"40_to_49,_at_a_monitor": str(PEOPLE)})
    draft = next(iter(drafts.BOOK._drafts.values()))
    draft.results["team.session"] = shown_before
    pressed(page, "Compute for 80 people")
    assert "this file and one shown before differ by fewer than 10 people" in markup(page)
    assert "lg-table" not in markup(page)
    assert not page.get("vega_lite_chart")


def test_deleted_means_gone_from_this_program():
    page = computed()
    draft = next(iter(drafts.BOOK._drafts.values()))
    assert "team.found" in draft.results
    pressed(page, words.DELETE_ANSWERS)
    assert draft.results == {}
    assert draft.values == {}
    assert "team.found" not in next(iter(drafts.BOOK._drafts.values())).results


def test_a_country_shows_its_own_line_and_never_the_other():
    page = opened("team")
    assert "Choose the country at the top of the page" in markup(page)
    choice = widget(page, "selectbox", "Country")
    choice.set_value("United Kingdom")
    page.run()
    assert "SI 1992" in markup(page).replace("&#47;", "/").replace("&#40;", "(")
    assert "C&#45;392" not in markup(page)
    choice = widget(page, "selectbox", "Country")
    choice.set_value("Ireland")
    page.run()
    assert "C&#45;392" in markup(whole(page))
    assert "DSE Regulations" not in markup(page)
    assert "This is not legal advice" in markup(page)


def test_a_rule_not_checked_for_a_year_says_so(monkeypatch):
    monkeypatch.setattr("app.views.team.law._today", lambda: date(2026, 11, 26))
    assert "the law may have changed" not in markup(computed(country="Germany"))
    monkeypatch.setattr("app.views.team.law._today", lambda: date(2027, 11, 25))
    assert "more than 12 months ago&#58; the law may have changed" in markup(
        computed(country="Germany")
    )


def test_no_less_neck_pain_and_no_return_is_claimed():
    text = markup(computed())
    assert "Less neck pain is not claimed" in text
    assert escaped(tables.by_id("team_evidence")["neck_pain"]["finding"]) in text
    assert "not tested in a trial" in text


def rows_of(*lines: str) -> bytes:
    """A file with these lines under the header."""
    return "\n".join([HEADER, *lines]).encode()


def test_a_file_is_read_with_its_rows_numbered_as_written():
    found = team_file.read_file(rows_of("A-1,54,monitor,24,6,", "", "A-2,54,monitor,24,30,"))
    assert (found.rows, found.people, found.bad_rows) == (2, 1, 1)
    assert [(one.row, one.column, one.value) for one in found.problems] == [
        (4, "hours_screen", "30")
    ]


def test_a_file_with_powers_says_that_an_employer_may_not_hold_them():
    lines = "age,add,sph,screen,screen size,screen hours,name\n54,2.00,-1,monitor,24,6,Jo\n"
    found = team_file.read_file(lines.encode())
    assert found.notes == (
        "Not used: column “name”.",
        "An employer may not hold powers or fitting heights: take out the columns add_d, sphere_d.",
    )
    assert "Jo" not in str(found)


def test_the_young_are_counted_and_bands_stand_for_their_people():
    counts = {("18-39", "monitor"): "7", ("60+", "laptop"): "120"}
    hours = {"hours_screen": "6", "hours_paper": "0"}
    frame = team_file.banded(counts, sizes=team_file.SIZE_ASSUMED_IN, hours=hours)
    found = team_file.checked(frame)
    assert (found.people, found.young) == (127, 7)


@pytest.mark.parametrize("text", ["3.5", "-1", "10001", "many"])
def test_a_count_that_is_none_is_refused(text):
    with pytest.raises(InputRefusedError):
        team_file.banded({("60+", "laptop"): text}, sizes=team_file.SIZE_ASSUMED_IN, hours={})


def test_a_formula_in_a_bad_row_leaves_the_page_as_text():
    found = team_file.read_file(rows_of('A-1,54,"=1+1",24,6,', 'A-2,54,"\t@x",24,6,'))
    table = export_csv(team_words.problem_frame(found.problems))
    values = [line[2] for line in csv.reader(io.StringIO(table))][1:]
    assert values == ["'=1+1", "'@x"]


def test_a_search_in_slices_says_how_far_it_is_and_draws_as_the_engine_does():
    lines = ["ref,age_years,screen_kind,screen_in,hours_screen"]
    lines += [f"A-{at},{44 + at % 20},monitor,24,6" for at in range(27)]
    rows = team_file.read_file("\n".join(lines).encode())
    told: list[float] = []
    asked = {"settings": Settings(), "assumed_present": "sv_distance"}
    tell = team_work.by_work(rows.is_searched, told.append)
    ours = team_of(rows.good, slice_people=24, progress=tell, **asked)
    whole_team = team_of(rows.good, **asked)
    assert told == [24 / 27, 1.0]
    assert ours.ref == whole_team.ref
    for name in ("present", "general", "screen_pair", "screen_pair_moved"):
        assert np.array_equal(getattr(ours, name), getattr(whole_team, name)), name


def test_what_is_said_moves_the_total_as_worked_by_hand():
    team = invented()
    assumed = Assumptions(uptake=Range(0.5, 1.0))
    found = moves(team, Ends(team, {"add_d": (team, team)}), "screen_pair", assumed, typed=True)
    by_name = {one.name: one.gained_h for one in found}
    assert by_name["uptake, 50 to 100 %"] == (40.0, 80.0)  # 40 people x 2 h
    base = total(team, "screen_pair", assumed).gained_h.mid
    assert by_name["power for near that people need at their age, 0.25 dioptre less or more"] == (
        base,
        base,
    )
    assert found[0].name == "uptake, 50 to 100 %"


def test_a_hidden_total_is_a_word_and_no_box():
    few = gaining([2.0] * 3 + [0.0] * 17, group=[2] * 20)
    shown = published(few, Assumptions())
    bars = team_words.bars(shown, "helped", Law(""))
    assert bars[2].says == "Screen glasses for those who gain: hidden"
    drawn = team_charts.ranges(bars, axis="people")["datasets"]["drawn"]
    assert "Screen glasses for those who gain" not in [row["label"] for row in drawn]
    assert all(
        "hidden" in cell for cell in team_words.policy_cells(shown, Assumptions(), Law(""))[2][1:-1]
    )


def test_thousands_are_apart_in_the_sentence_on_small_groups_too():
    shown = next(one for one in published(invented(), Assumptions()) if one.policy == "screen_pair")
    said = team_words.why_groups(shown, 1200, Assumptions())
    assert "once 1,200 of its people" in said
    assert re.search(r"about \d,\d\d0 people", said), said


def test_no_line_of_a_chart_is_longer_than_a_phone_is_wide():
    long = "power for near that people need at their age, 0.25 dioptre less or more"
    ends = [team_charts.Ends(long, 55.0, 90.0), team_charts.Ends("uptake, 60 to 90 %", 55.0, 80.0)]
    spec = team_charts.moves(ends, axis="hours", middle=70.0)
    for row, one in zip(spec["datasets"]["rows"], ends, strict=True):
        lines = [row["name1"], row["name0"]]
        assert " ".join(lines).strip() == one.label
        assert max(map(len, lines)) <= team_charts.LINE_SIGNS
    drawn = {
        layer["encoding"]["text"]["field"] for layer in spec["layer"] if "text" in layer["encoding"]
    }
    assert drawn == {"name0", "name1", "says"}
    wide = team_charts.Bar("Screen glasses for those who gain", (2250.0, 3600.0, 4950.0))
    (name,) = team_charts.ranges([wide], axis="cost")["datasets"]["names"]
    assert name["says1"] == "Screen glasses for those who gain:"
    assert name["says0"] == wide.figures
    short = team_charts.moves(ends[1:], axis="hours", middle=70.0)
    assert 2 * short["height"] < spec["height"] + team_charts.AXIS_PX


def test_unusual_values_are_listed_beside_their_usual_range():
    found = team_file.read_file(
        b"age_years,add_d,screen_kind,screen_in,screen_distance_cm,hours_screen\n"
        b"54,2.00,monitor,24,65,6\n55,2.00,monitor,61,650,6\n"
        b"56,2.00,monitor,24,650,\n30,,monitor,24,26,6\n"
    )
    assert (found.people, found.young, found.bad_rows) == (3, 1, 1)
    assert [(one.row, one.column, one.value, one.rule) for one in found.doubts] == [
        (3, "screen_in", "61", "10 to 49 in"),
        (3, "screen_distance_cm", "650", "50 to 100 cm"),
        (4, "screen_distance_cm", "650", "50 to 100 cm"),
        (5, "screen_distance_cm", "26", "50 to 100 cm"),
    ]
