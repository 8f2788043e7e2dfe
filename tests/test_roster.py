"""Rosters: the answers of `advise` row by row, refusals listed, draws, files."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from engine import tables
from engine.__main__ import main
from engine.answer.choice import RULES
from engine.answer.options import PRESENT
from engine.assemble import advise
from engine.case.model import Case
from engine.case.scene import usual_limits
from engine.errors import InputRefusedError
from engine.lenses.kinds import KINDS
from engine.optics import workstation
from engine.optics.accommodation import blur_limit_d, usual_add_d
from engine.roster.answer import HOURS, Answer, Settings, answer
from engine.roster.columns import columns
from engine.roster.draws import fill, spreads
from engine.roster.file import header, in_processes, neutral, run_file
from engine.roster.reading import read_list
from engine.roster.rows import Problem, read_rows
from engine.roster.scene import scene_of_rows, screen_size_cm
from engine.roster.search import OPTIONS, fits
from engine.roster.template import template_csv
from engine.tables import Judgements
from engine.threads import cores
from tests.roster_examples import (
    Measured,
    as_measured,
    case_of,
    roster,
    with_unknowns,
    written,
)

SAME_H = 1e-9
"""Sums of a few hundred shares in another order."""


def one_row(**changed: str) -> pd.DataFrame:
    frame = roster(1)
    for name, text in changed.items():
        frame.loc[1, name] = text
    return frame


def problems_of(**changed: str) -> list[Problem]:
    return list(read_rows(one_row(**changed)).problems)


# --- the same kernel as advise ---------------------------------------------------------------


@pytest.fixture(scope="module", params=[1, 2, 3])
def sample(request: pytest.FixtureRequest) -> tuple[Answer, list[dict[str, Measured]]]:
    found = answer(roster(10, seed=request.param, targets=request.param))
    return found, [as_measured(case) for case in cases_of(found)]


def cases_of(found: Answer) -> list[Case]:
    return [
        case_of(
            {name: float(one[at]) for name, one in found.drawn.values.items()},
            present_kind=str(found.rows.present_kind[at]),
        )
        for at in range(len(found.computed))
    ]


def test_hours_of_every_option_are_those_of_a_case_as_measured(
    sample: tuple[Answer, list[dict[str, Measured]]],
) -> None:
    found, asked = sample
    compared = 0
    for at, options in enumerate(asked):
        for place, name in enumerate(OPTIONS):
            theirs = options.get(name)
            if theirs is None:
                assert np.isnan(found.hours["comfortable_h"][at, place]), (at, name)
                continue
            ours = [float(found.hours[grade][at, place]) for grade in HOURS]
            off = max(abs(one - other) for one, other in zip(ours, theirs.hours, strict=True))
            assert off < SAME_H, (at, name)
            assert found.sees_to_cm[at, place] == (theirs.lens_sees_to_cm or np.inf), (at, name)
            compared += 1
    assert compared > 60


def test_designs_are_those_of_a_case_as_measured(
    sample: tuple[Answer, list[dict[str, Measured]]],
) -> None:
    found, asked = sample
    for at, options in enumerate(asked):
        for name, theirs in options.items():
            words = [
                f"{key}={value}" if isinstance(value, str) else f"{key}={value:g}"
                for key, value in theirs.design.numbers().items()
            ]
            ours = found.design[at, OPTIONS.index(name)]
            assert found.designs[ours] == " ".join(words), (at, name)


def test_the_pair_worn_has_the_hours_that_advise_gives_it_as_measured() -> None:
    found = answer(roster(3, seed=4, targets=3))
    for at, case in enumerate(cases_of(found)):
        theirs = advise(case).option(PRESENT).as_measured.by_grade()
        ours = [float(found.hours[grade][at, OPTIONS.index(PRESENT)]) for grade in HOURS]
        assert max(abs(one - other) for one, other in zip(ours, theirs, strict=True)) < SAME_H


def test_a_changed_judgement_changes_the_roster_as_it_changes_a_case() -> None:
    stricter = replace(Judgements.standard(), blur_limit_base_d=0.15)
    rows = roster(6, seed=1, targets=1)
    found = answer(rows, settings=Settings(judgements=stricter))
    usual = answer(rows).hours["comfortable_h"]
    assert np.nansum(found.hours["comfortable_h"]) < np.nansum(usual) - 1.0
    for at, case in enumerate(cases_of(found)):
        for name, theirs in as_measured(case, judgements=stricter).items():
            ours = found.hours["comfortable_h"][at, OPTIONS.index(name)]
            assert abs(ours - theirs.hours[0]) < SAME_H, (at, name)


def test_bare_eyes_may_be_what_is_worn_whatever_their_power() -> None:
    found = answer(one_row(present_kind="unaided", sphere_d="1.5"))
    place = OPTIONS.index("present_pair")
    assert found.designs[found.design[0, place]] == "", "no design has a minus power"
    assert found.hours["comfortable_h"][0, place] == 0.0


def test_the_option_with_most_hours_is_the_one_of_a_case_as_measured(
    sample: tuple[Answer, list[dict[str, Measured]]],
) -> None:
    found, asked = sample
    for at, options in enumerate(asked):
        most = max(round(one.hours[0], 6) for one in options.values())
        assert round(options[OPTIONS[found.most_hours[at]]].hours[0], 6) == most


# --- the pair put first ----------------------------------------------------------------------


def put_first(**changed: str) -> tuple[str, str]:
    """The option put first in one row, and the rule that decided."""
    rows = answer(one_row(**{**PLAIN, **changed})).by_row()
    return (*OPTIONS, "")[rows.put_first[0]], (*RULES, "")[rows.put_first_by[0]]


PLAIN = {
    "add_d": "2", "sphere_d": "1", "screen_kind": "monitor", "screen_in": "24",
    "screen_aspect": "16:9", "screen_distance_cm": "65", "screen_top_cm": "-5",
    "screen_tilt_deg": "10", "hours_screen": "6", "hours_paper": "0", "hours_people": "0",
    "fitting_height_mm": "20", "present_kind": "",
}  # fmt: skip


def test_of_pairs_as_good_the_one_that_shows_more_is_put_first() -> None:
    assert put_first() == ("office", "shows_more")


def test_a_pair_owned_that_does_as_well_is_put_first_and_no_new_one_like_it() -> None:
    for worn in ("sv_computer", "office"):
        assert put_first(present_kind=worn) == (PRESENT, "new_pairs")


def test_a_pair_owned_that_does_badly_is_not_put_first() -> None:
    assert put_first(present_kind="sv_distance")[0] == "office"


def test_no_glasses_are_kept_by_a_myope_and_not_by_whose_eyes_are_unknown() -> None:
    """Short-sighted by 1.5 D the bare eyes are sharp at the screen."""
    assert put_first(sphere_d="-1.5") == ("unaided", "owned_and_liked")
    light = {"add_d": "0.75", "screen_distance_cm": "80", "present_kind": "sv_distance"}
    assert put_first(sphere_d="0", **light)[0] == "unaided"
    assert put_first(sphere_d="", **light)[0] == PRESENT


def test_where_nothing_serves_nothing_is_put_first() -> None:
    """Letters of half a millimetre are legible through no lens."""
    assert put_first(text_mm="0.5", screen_distance_cm="150", screen_top_cm="5") == ("", "")


def test_a_line_is_only_put_first_for_who_wears_one() -> None:
    """Some lined lens has the most hours, and nobody was asked whether a line is accepted."""
    frame = roster(300, seed=1)
    found = answer(frame)
    rows = found.by_row()
    first = [OPTIONS[at] for at in rows.put_first]
    most = [OPTIONS[at] for at in rows.most_hours]
    lined = [name for name in KINDS if KINDS[name].is_lined]
    assert not set(first) & set(lined)
    assert set(most) & set(lined)
    worn = [str(kind) for kind in found.rows.present_kind]
    assert any(one == PRESENT and kind in lined for one, kind in zip(first, worn, strict=True))


def test_where_something_is_drawn_the_mean_hours_decide() -> None:
    frame = one_row(**PLAIN)
    frame.loc[1, "add_d"] = ""
    found = answer(frame, settings=Settings(draws=64))
    shares = found.drawn.values["eyes_first"]
    assert 0.2 <= (shares > 0.0).mean() <= 0.8
    assert set(found.drawn.values["window_factor"]) == {0.5, 1.0, 2.0}
    rows = found.by_row()
    place = int(rows.put_first[0])
    assert OPTIONS[place] == "sv_computer"
    most_h = float(np.nanmax(rows.mean["comfortable_h"][0]))
    assert rows.mean["comfortable_h"][0, place] > most_h - 0.31


def test_who_is_drawn_once_turns_the_head_and_has_the_lens_as_computed() -> None:
    drawn = answer(roster(4)).drawn.values
    assert (drawn["eyes_first"] == 0.0).all()
    assert (drawn["made"] == 0.0).all()
    for name, usual in usual_limits(Judgements.standard()).items():
        assert (drawn[name] == usual).all()


def test_a_row_that_is_drawn_has_one_of_the_lenses_that_are_made() -> None:
    frame = one_row(**PLAIN)
    frame.loc[1, "add_d"] = ""
    drawn = answer(frame, settings=Settings(draws=64)).drawn.values["made"]
    assert set(drawn) <= set(range(1, 17))
    assert len(set(drawn)) > 8


# --- rows that are refused -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("column", "text"),
    [
        ("age_years", "17"),
        ("age_years", "111"),
        ("age_years", "about 50"),
        ("add_d", "0.2"),
        ("add_d", "-0.25"),
        ("add_d", "4.25"),
        ("screen_kind", "television"),
        ("screen_kind", ""),
        ("screen_in", ""),
        ("screen_in", "2.9"),
        ("screen_in", "121"),
        ("screen_aspect", "16-9"),
        ("screen_distance_cm", "14"),
        ("screen_distance_cm", "1e3"),
        ("screen_distance_cm", "nan"),
        ("screen_distance_cm", "20"),
        ("hours_screen", "24.5"),
        ("hours_screen", "23.5"),
        ("hours_paper", "-1"),
        ("fitting_height_mm", "34"),
        ("paper_distance_cm", "21"),
        ("present_kind", "monocle"),
        ("ref", "Jo Example"),
        ("ref", "x" * 25),
    ],
)
def test_a_wrong_value_is_listed_with_row_column_value_and_rule(column: str, text: str) -> None:
    found = problems_of(**{column: text})
    assert found[0].column == column
    assert found[0].row == 1
    assert found[0].rule
    assert found[0].value in (text, "nothing", "(not repeated)", "24.5"), (
        "24.5: hours of all together"
    )


@pytest.mark.parametrize(
    ("column", "at_limit"),
    [
        ("age_years", "18"),
        ("age_years", "110"),
        ("add_d", "0"),
        ("add_d", "0.25"),
        ("add_d", "4"),
        ("screen_in", "3"),
        ("hours_screen", "0"),
        ("hours_screen", "23"),
        ("fitting_height_mm", "6"),
    ],
)
def test_a_value_at_its_limit_is_taken(column: str, at_limit: str) -> None:
    assert problems_of(**{column: at_limit}) == []


def test_the_limits_are_those_of_the_fields_of_a_case() -> None:
    assert columns()["screen_distance_cm"].rule == "15 to 2000 cm"
    assert columns()["add_d"].rule == "0.25 to 4 D, or 0 where none is needed"
    assert columns()["hours_screen"].rule == "0 to 24 h"


def test_an_add_of_nothing_is_computed_with_and_not_drawn() -> None:
    found = answer(one_row(add_d="0"), settings=Settings(draws=4))
    assert (found.drawn.values["add_d"] == 0.0).all()


@pytest.mark.parametrize(
    ("years", "band", "fine"),
    [
        ("54", "", True),
        ("", "50-54", True),
        ("", "60+", True),
        ("", "", False),
        ("54", "50-54", False),
        ("", "54-50", False),
        ("", "5-10", False),
        ("", "old", False),
    ],
)
def test_an_age_or_a_band_but_not_both(years: str, band: str, fine: bool) -> None:
    assert (problems_of(age_years=years, age_band=band) == []) is fine


def test_lengths_in_inches_and_decimal_commas_are_read() -> None:
    rows = read_rows(one_row(screen_distance_cm="26 in", text_mm="3,2"))
    assert abs(rows.values["screen_distance_cm"][0] - 66.04) < 1e-9
    assert rows.values["text_mm"][0] == 3.2


def test_a_panel_called_21_to_9_has_the_size_it_has_in_a_case() -> None:
    values = fill(read_rows(one_row(screen_in="34", screen_aspect="21:9")), draws=1, seed=1).values
    sides = [float(side[0]) for side in screen_size_cm(values)]
    of_a_case = workstation.screen_size_cm(diagonal_in=34, aspect="21:9")
    assert max(abs(a - b) for a, b in zip(sides, of_a_case, strict=True)) <= 1e-9
    assert 79.6 <= sides[0] <= 79.7  # not the 79.4 of 21 to 9


def test_a_face_is_not_print() -> None:
    """The presets of a person have 30 arcmin of detail, and so have the people of a roster."""
    people = [tables.by_id("presets")[name]["text_arcmin"] for name in ("colleague", "visitor")]
    assert people == ["30", "30"]
    values = fill(read_rows(roster(3, targets=3)), draws=1, seed=1).values
    scene = scene_of_rows(values, judgements=Judgements.standard())
    of_faces = scene.limit_d[scene.is_far]
    assert len(of_faces) == 3
    assert np.abs(of_faces - blur_limit_d(text_arcmin=30.0)).max() <= 1e-9


def test_a_name_is_neither_taken_nor_repeated() -> None:
    assert "Jo" not in str(problems_of(ref="Jo Example"))


@pytest.mark.parametrize("names", [["screen_in"], ["ref", "colour"], ["ref", "ref"]])
def test_a_header_that_is_not_known_is_refused(names: list[str]) -> None:
    with pytest.raises(InputRefusedError, match="header"):
        read_rows(pd.DataFrame([["1"] * len(names)], columns=pd.Index(names)))


def test_the_template_is_a_roster_that_can_be_computed() -> None:
    frame = next(read_list(io.BytesIO(template_csv().encode()), field="in").frames(rows=10))
    assert read_rows(frame).problems == ()
    assert len(answer(frame).computed) == 1


# --- what is not known is drawn --------------------------------------------------------------


def unknown_rows(count: int, *blank: str) -> pd.DataFrame:
    frame = pd.concat([one_row(**dict.fromkeys(blank, ""))] * count)
    return frame.set_axis(pd.RangeIndex(1, count + 1), axis=0)


def drawn(column: str, frame: pd.DataFrame, *, seed: int = 1) -> np.ndarray:
    return fill(read_rows(frame), draws=20, seed=seed).values[column]


def test_adds_are_the_usual_one_for_the_age_with_the_published_spread() -> None:
    frame = unknown_rows(200, "add_d")
    frame["age_years"] = "56"
    found = drawn("add_d", frame)
    error = spreads()["add_d", "all"].sd / np.sqrt(len(found))
    assert abs(found.mean() - float(usual_add_d(age_years=56))) < 4 * error + 0.01
    assert abs(found.std() - 0.25) < 0.04, "the step of 0.25 D adds 0.01 to the spread"
    assert set(np.unique(found * 4 % 1)) == {0.0}


@pytest.mark.parametrize(
    "column",
    ["screen_distance_cm", "screen_tilt_deg", "paper_distance_cm", "fitting_height_mm"],
)
def test_a_drawn_value_has_the_mean_and_spread_of_its_row(column: str) -> None:
    frame = unknown_rows(200, column)
    frame["screen_kind"], frame["screen_in"] = "monitor", "24"
    spread = spreads().get((column, "monitor")) or spreads()[column, "all"]
    found = drawn(column, frame)
    assert abs(found.mean() - spread.mean) < spread.sd / 8
    assert 0.75 * spread.sd < found.std() < 1.05 * spread.sd, "the cut takes some of it"
    assert spread.low <= found.min() < found.max() <= spread.high


def test_taller_people_see_a_screen_lower_and_the_two_spreads_add_up() -> None:
    frame = unknown_rows(300, "screen_top_cm")
    frame["screen_kind"], frame["screen_in"], frame["screen_distance_cm"] = "monitor", "24", "80"
    found = drawn("screen_top_cm", frame)
    men, women = (spreads()["eye_height_mm", sex] for sex in ("men", "women"))
    between = (men.mean - women.mean) / 20
    own = np.mean([men.sd, women.sd]) / 10
    wanted = np.sqrt(between**2 + own**2 + spreads()["screen_top_cm", "monitor"].sd ** 2)
    assert abs(found.std() - wanted) < 0.5, "5 % of it"
    assert abs(found.mean()) < 0.5


def test_the_same_seed_draws_the_same_and_another_seed_does_not() -> None:
    frame = unknown_rows(5, "add_d", "screen_top_cm", "screen_distance_cm")
    first, again, other = (drawn("screen_distance_cm", frame, seed=seed) for seed in (1, 1, 2))
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)


def test_no_two_rows_and_no_two_draws_share_their_chance() -> None:
    frame = unknown_rows(50, "screen_distance_cm")
    frame["screen_top_cm"] = "0"
    found = drawn("screen_distance_cm", frame)
    assert len(np.unique(found)) > 0.98 * len(found), "a few meet at the cuts"


def test_what_was_drawn_can_stand_there() -> None:
    frame = unknown_rows(200, "screen_top_cm", "screen_distance_cm", "paper_distance_cm")
    frame["screen_in"], frame["paper_centre_cm"] = "34", "-45"
    found = fill(read_rows(frame), draws=5, seed=1).values
    assert (np.abs(found["screen_top_cm"]) <= 0.9 * found["screen_distance_cm"]).all()
    assert (np.abs(found["paper_centre_cm"]) <= 0.9 * found["paper_distance_cm"]).all()


def test_a_row_with_something_unknown_has_a_spread_and_one_without_has_none() -> None:
    frame = roster(2)
    frame.loc[2, "add_d"] = ""
    rows = answer(frame, settings=Settings(draws=12)).by_row()
    assert list(rows.draws) == [1, 12]
    assert np.isnan(rows.low_h[0]).all()
    place = OPTIONS.index("general_progressive")
    assert rows.low_h[1, place] <= rows.mean["comfortable_h"][1, place] <= rows.high_h[1, place]
    assert rows.low_h[1, place] < rows.high_h[1, place]


def test_a_shift_moves_what_was_drawn_and_nothing_else() -> None:
    frame = roster(2)
    frame.loc[2, "add_d"] = ""
    plain, shifted = (
        answer(frame, settings=Settings(draws=4, shifts=shifts)).drawn.values["add_d"]
        for shifts in ({}, {"add_d": 0.25})
    )
    assert shifted[0] == plain[0]
    assert np.all((shifted[1:] == plain[1:] + 0.25) | (shifted[1:] == 3.0))


def test_too_young_for_an_add_is_counted_and_not_computed() -> None:
    found = answer(one_row(age_years="39.9", add_d=""))
    assert list(found.rows.young) == [True]
    assert len(found.computed) == 0
    assert len(answer(one_row(age_years="40", add_d="")).computed) == 1
    assert len(answer(one_row(age_years="30", add_d="1.25")).computed) == 1


# --- desk first ------------------------------------------------------------------------------


def test_lowering_the_screens_never_takes_hours_from_the_pair_worn_today() -> None:
    frame = roster(24, seed=5)
    frame["present_kind"] = "general_progressive"
    now, moved = (answer(frame, settings=Settings(desk_first=first)) for first in (False, True))
    place = OPTIONS.index("present_pair")
    gained = moved.hours["comfortable_h"][:, place] - now.hours["comfortable_h"][:, place]
    assert gained.min() >= 0.0
    assert gained.max() > 0.5
    laptop = now.rows.screen_kind == "laptop"
    assert (gained[laptop] == 0.0).all(), "a laptop is not lowered"


def test_a_lowered_screen_keeps_the_limits_of_the_desk() -> None:
    values = {
        name: np.array([one, one])
        for name, one in (
            ("screen_in", 24.0),
            ("screen_aspect", 16 / 9),
            ("screen_tilt_deg", 0.0),
            ("screen_distance_cm", 70.0),
        )
    }
    height = 24 * 2.54 / np.hypot(16 / 9, 1.0)
    lowest = -47.0 + height
    assert fits(
        values | {"screen_top_cm": np.array([lowest + 0.01, lowest - 0.01])},
        judgements=Judgements.standard(),
    ).tolist() == [True, False]


# --- files -----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("rosters")
    return written(with_unknowns(roster(60, seed=9, targets=3)), folder / "in.csv")


def answered(source: Path, target: Path, **options: object) -> bytes:
    run_file(source, target, settings=Settings(draws=3), **options)  # type: ignore[arg-type]
    return target.read_bytes()


def rows_in(target: Path) -> list[dict[str, str]]:
    with target.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_every_row_is_answered_in_its_order_and_none_is_dropped(
    source: Path, tmp_path: Path
) -> None:
    done = run_file(source, tmp_path / "out.csv", settings=Settings(draws=2))
    rows = rows_in(tmp_path / "out.csv")
    assert [row["row"] for row in rows] == [str(number) for number in range(2, 62)]
    assert all(None not in row and None not in row.values() for row in rows)
    states = [row["status"] for row in rows]
    assert states.count("computed") == done.computed
    assert states.count("refused") == done.refused == 7
    assert states.count("too_young") == done.young == 1
    wall = rows[3]
    assert (
        wall["problems"] == "screen_kind: 'wall' cannot be used. Allowed: one of monitor, laptop."
    )
    assert rows[6]["drawn"].startswith("age add_d")
    assert list(rows[0]) == header()


UNUSUAL = (
    ({}, "computed", "", ""),
    ({"screen_distance_cm": "650"}, "computed", "screen_distance_cm: '650'", "50 to 100 cm"),
    ({"screen_in": "61"}, "computed", "screen_in: '61'", "10 to 49 in"),
    ({"sphere_d": "-25"}, "computed", "sphere_d: '-25'", "−10 to 8 D"),
    ({"text_mm": "32"}, "computed", "text_mm: '32'", "1.6 to 8 mm"),
    ({"people_distance_cm": "70"}, "computed", "people_distance_cm: '70'", "80 to 400 cm"),
    ({"people_distance_cm": "1800"}, "computed", "people_distance_cm: '1800'", "80 to 400 cm"),
    ({"people_distance_cm": "80"}, "computed", "", ""),
    ({"people_distance_cm": "400"}, "computed", "", ""),
    ({"age_years": "30"}, "computed", "age_years: '30'", "40 to 80 years"),
    ({"age_years": "", "age_band": "75-90"}, "computed", "age_band: '75-90'", "40 to 80 years"),
    ({"age_years": "", "age_band": "35 - 50"}, "computed", "age_band: '35-50'", "40 to 80 years"),
    ({"age_years": "", "age_band": "40-80"}, "computed", "", ""),
    ({"age_years": "30", "add_d": ""}, "too_young", "", ""),
    (
        {"age_years": "30", "add_d": "", "screen_distance_cm": "650"},
        "too_young",
        "screen_distance_cm: '650'",
        "50 to 100 cm",
    ),
    ({"hours_screen": "", "screen_in": "61"}, "refused", "screen_in: '61'", "10 to 49 in"),
    ({"age_years": "", "age_band": "5-10"}, "refused", "", ""),
    ({"screen_kind": "desk", "screen_distance_cm": "650"}, "refused", "", ""),
)
"""What is changed in the row of the template, what becomes of it, what is doubted and is usual."""


def test_unusual_values_are_doubted_whatever_becomes_of_their_row(tmp_path: Path) -> None:
    template = pd.read_csv(io.StringIO(template_csv()), dtype=str, keep_default_na=False)
    changed = [template.assign(ref=f"A-{at}", **one[0]) for at, one in enumerate(UNUSUAL)]
    run_file(written(pd.concat(changed), tmp_path / "in.csv"), tmp_path / "out.csv")
    rows = rows_in(tmp_path / "out.csv")
    for row, (values, status, doubted, usual) in zip(rows, UNUSUAL, strict=True):
        said = f"{doubted} is unusual. Usual: {usual}." if doubted else ""
        assert (row["status"], row["doubts"]) == (status, said), values


def test_chunks_and_processes_do_not_change_a_byte(source: Path, tmp_path: Path) -> None:
    whole = answered(source, tmp_path / "whole.csv", chunk_rows=60)
    for chunk_rows in (7, 1000):
        assert answered(source, tmp_path / "chunks.csv", chunk_rows=chunk_rows) == whole
    mapper = partial(in_processes, workers=2)
    assert answered(source, tmp_path / "two.csv", chunk_rows=7, mapper=mapper) == whole


def test_progress_is_told_and_ends_at_the_number_of_rows(source: Path, tmp_path: Path) -> None:
    told: list[int] = []
    answered(source, tmp_path / "out.csv", chunk_rows=25, progress=told.append)
    assert told == [25, 50, 60]


def test_a_semicolon_file_with_decimal_commas_is_the_same_roster(
    source: Path, tmp_path: Path
) -> None:
    frame = pd.read_csv(source, dtype=str, keep_default_na=False)
    frame = frame.map(lambda text: text.replace(".", ","))
    path = tmp_path / "semicolons.csv"
    path.write_bytes(b"\xef\xbb\xbf" + frame.to_csv(index=False, sep=";").encode())
    assert answered(path, tmp_path / "a.csv") == answered(source, tmp_path / "b.csv")


def test_an_answer_with_decimal_commas_is_the_same_table(
    source: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plain, commas = tmp_path / "plain.csv", tmp_path / "commas.csv"
    assert main(["roster", str(source), str(plain)]) == 0
    assert main(["roster", str(source), str(commas), "--decimal-comma"]) == 0
    capsys.readouterr()
    wanted = pd.read_csv(plain)
    assert len(wanted.select_dtypes("float").columns), "no number to write"
    pd.testing.assert_frame_equal(pd.read_csv(commas, sep=";", decimal=","), wanted)


def test_a_template_with_decimal_commas_is_read_as_the_plain_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["roster", "--template", "--decimal-comma"]) == 0
    path, plain = tmp_path / "in.csv", tmp_path / "plain.csv"
    path.write_text(capsys.readouterr().out, encoding="utf-8")
    plain.write_text(template_csv(), encoding="utf-8")
    assert ";" in path.read_text(encoding="utf-8")
    assert answered(path, tmp_path / "a.csv") == answered(plain, tmp_path / "b.csv")


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "an empty file"),
        (b"\xff\xfe\x00", "UTF-8"),
        (b"name,age\n1,2\n", "header"),
        (template_csv().encode() + b'"open', "cells separated by commas"),
    ],
)
def test_a_file_that_is_no_roster_is_refused_and_leaves_nothing(
    tmp_path: Path, content: bytes, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "in.csv").write_bytes(content)
    status = main(["roster", str(tmp_path / "in.csv"), str(tmp_path / "out.csv")])
    told = capsys.readouterr().err
    assert status == 2
    assert said in told
    assert told.count("\n") == 1
    assert [path.name for path in tmp_path.iterdir()] == ["in.csv"]


def test_a_line_with_too_few_or_too_many_cells_is_listed(tmp_path: Path) -> None:
    path = tmp_path / "in.csv"
    path.write_text(f"{template_csv()}a,b\n\n{'1,' * 30}\n", encoding="utf-8")
    run_file(path, tmp_path / "out.csv")
    lines = (tmp_path / "out.csv").read_text(encoding="utf-8").splitlines()
    assert len(lines) == 4, "a blank line is no row"
    assert "whole row: '2 of 20 cells'" in lines[2]
    assert "whole row: '31 of 20 cells'" in lines[3]


def test_the_answer_never_overwrites_the_roster(source: Path) -> None:
    before = source.read_bytes()
    assert main(["roster", str(source), str(source)]) == 2
    assert source.read_bytes() == before


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("=1+1", "'=1+1"),
        ("-A1", "'-A1"),
        ("+1", "'+1"),
        ("@x", "'@x"),
        (" =1", "' =1"),
        ("plain", "plain"),
        ("a=1", "a=1"),
        ("a\tb", "a b"),
    ],
)
def test_cells_that_a_spreadsheet_would_run_are_neutralised(text: str, found: str) -> None:
    assert neutral(text) == found


def test_a_refused_value_that_is_a_formula_cannot_run_in_the_answer(tmp_path: Path) -> None:
    path = written(one_row(present_kind="=cmd|calc", ref="-1-1"), tmp_path / "in.csv")
    run_file(path, tmp_path / "out.csv")
    with (tmp_path / "out.csv").open(encoding="utf-8", newline="") as file:
        cells = [cell for row in csv.reader(file) for cell in row]
    assert not any(cell.startswith(("=", "+", "@")) for cell in cells)
    assert not any(cell.startswith("-") for cell in cells)


@pytest.mark.parametrize(
    "options",
    [["--draws", "0"], ["--chunk-rows", "0"], ["--processes", "0"]],
)
def test_an_option_outside_its_range_is_refused(
    source: Path, tmp_path: Path, options: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["roster", str(source), str(tmp_path / "out.csv"), *options]) == 2
    assert options[0] in capsys.readouterr().err


def test_the_command_says_what_it_did(
    source: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["roster", str(source), str(tmp_path / "out.csv"), "--draws", "1"]) == 0
    assert "7 refused (first: row 5, screen_kind)" in capsys.readouterr().out
    assert main(["roster", "--template"]) == 0
    assert capsys.readouterr().out == template_csv()


def test_all_cores_share_the_search_of_one_process_and_not_of_one_among_others(
    source: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shared: list[int] = []
    monkeypatch.setattr("engine.kernel.compiled.share_among", shared.append)
    command = ["roster", str(source), str(tmp_path / "out.csv"), "--draws", "1"]
    assert main([*command, "--processes", "2"]) == 0
    assert shared == []
    assert main(command) == 0
    assert shared == [cores()]


def test_a_word_for_a_number_and_an_empty_cell_say_what_is_allowed() -> None:
    for column, rule in (("screen_in", "3 to 120 in"), ("hours_paper", "0 to 24 h")):
        for text in ("abc", "½"):
            with pytest.raises(InputRefusedError) as refused:
                columns()[column].number(text)
            assert f"({rule})" in refused.value.sentence
