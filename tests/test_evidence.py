"""The evidence page: its tables are whole, its own checks say what was measured, it can be read."""

from __future__ import annotations

from collections import Counter
from types import ModuleType

import pytest

from engine import tables
from engine.answer.sources import name_of_judgement
from engine.wording import capital
from tests.oracles import desk_figures, gaze_error
from tests.pages import opened, said
from tests.published import rows as published

pytestmark = pytest.mark.usefixtures("own_drafts")
CLAIMS = tables.rows("evidence")


@pytest.fixture(scope="module")
def claims() -> ModuleType:
    """The page's own functions; to load its file is to draw it."""
    from app.views.evidence import page

    return page


def claim(identity: str) -> str:
    """What one claim says was found."""
    return tables.by_id("evidence")[identity]["result"]


@pytest.mark.parametrize("row", CLAIMS, ids=lambda row: row["id"])
def test_a_claim_has_everything_a_reader_asks_for(row: dict[str, str], claims: ModuleType) -> None:
    for name in ("topic", "claim", "design", "people", "result", "source", "locator"):
        assert row[name].strip(), name
    assert row["sure"] in claims.SURE
    assert row["status"] in tables.STATUSES
    assert row["claim"].endswith(".")
    assert not row["result"].endswith(".")


def test_claims_and_gaps_stand_once() -> None:
    for name in ("evidence", "left_out"):
        assert len(tables.by_id(name)) == len(tables.rows(name))
    assert len(CLAIMS) >= 30
    assert Counter(row["sure"] for row in CLAIMS)["not shown"] >= 4


def test_nothing_promises_less_neck_pain() -> None:
    about_necks = [row for row in CLAIMS if "neck" in row["claim"].lower()]
    assert about_necks
    assert all(row["sure"] in ("not shown", "uncertain") for row in about_necks)


def test_the_disagreement_about_the_head_is_told() -> None:
    other = claim("head_share_other")
    assert "8 % of the elevation below" in other
    assert "52 % above" in other
    assert "0.40" in other


def test_the_count_of_published_numbers_is_the_count() -> None:
    found = published.read_rows()
    printed = [row for row in found if row.standing == published.PRINTED]
    wanted = (
        f"{len(found)} numbers, {len(printed)} of them printed in "
        f"{len({row.source for row in printed})} sources; "
        f"{len(published.read_misprints())} printed errors are not reproduced"
    )
    assert claim("published_rows") == wanted


def test_the_figures_of_our_own_checks_are_those_measured() -> None:
    places = desk_figures.places()
    osha, iso = [p for p in places if p.osha], [p for p in places if p.iso]
    assert claim("standards_overlap").startswith(
        f"OSHA {sum(p.comfortable for p in osha)} of {len(osha)} places, "
        f"ISO {sum(p.comfortable for p in iso)} of {len(iso)};"
    )


def test_the_figures_of_the_ray_trace_are_those_measured() -> None:
    found = gaze_error.traced()
    at = {
        eye: [
            max(values)
            for values in zip(
                *(gaze_error.worst(found, eye_deg=eye, tilt_deg=tilt) for tilt in (0.0, 9.0)),
                strict=True,
            )
        ]
        for eye in (5.0, 10.0, 15.0, 20.0, 30.0)
    }
    to_20 = [max(at[eye][part] for eye in (5.0, 10.0, 15.0, 20.0)) for part in (0, 1)]
    assert max(to_20) <= 0.52
    assert claim("gaze_formula") == (
        "within 0.52 degrees and 0.52 mm to 20 degrees down; "
        f"{at[30.0][0]:.1f} degrees and {at[30.0][1]:.1f} mm at 30"
    )


def test_every_claim_its_source_and_every_gap_can_be_read() -> None:
    text = said(opened("evidence"))
    for row in CLAIMS:
        assert row["claim"] in text
        assert row["source"] in text
        assert row["people"] in text
    for row in tables.rows("left_out"):
        assert row["what"] in text
        assert row["so"] in text


def test_what_is_kept_from_whom_and_what_is_not_can_be_read() -> None:
    text = said(opened("evidence"))
    for row in tables.rows("protection"):
        assert row["held"] in ("closed", "open")
        assert f"{row['against']} {row['held']}" in text
        assert row["text"] in text
    for whom in ("administrator", "stolen_disk", "memory", "coordinator", "holder_of_the_address"):
        assert tables.by_id("protection")[whom]["held"] == "open"


def test_every_judgement_and_its_reason_can_be_read() -> None:
    text = said(opened("evidence"))
    for row in tables.rows("judgements"):
        assert " ".join(row["reason"].split()) in text
        assert capital(name_of_judgement(row["id"])) in text


def test_a_topic_and_a_word_narrow_the_list(claims: ModuleType) -> None:
    page = opened("evidence")
    topic, sure = page.selectbox
    topic.set_value("head and neck")
    sure.set_value("not shown")
    page.run()
    text = said(page)
    wanted = claims.chosen(CLAIMS, topic="head and neck", sure="not shown")
    assert wanted
    assert f"{len(wanted)} of {len(CLAIMS)} claims: {len(wanted)} not shown" in text
    assert all(row["claim"] in text for row in wanted)
    assert tables.by_id("evidence")["office_preferred"]["claim"] not in text


def test_none_is_said_in_words(claims: ModuleType) -> None:
    assert claims.counted([], 43).startswith("None of the 43 claims")
    assert claims.claims([]) == '<ul class="lg-claims"></ul>'


def test_words_of_a_table_are_never_markup(claims: ModuleType) -> None:
    row = dict(CLAIMS[0]) | {"claim": "![x](http://a)<b>", "source": "<script>"}
    html = claims.claims([row])
    assert "<script>" not in html
    assert "![" not in html
