"""A search goes on while the page is drawn anew, and stops once nobody waits for it."""

from __future__ import annotations

import gc
import threading

import pytest

from app.shell import drafts, words
from app.views.team import running
from app.views.team import work as team_work
from app.views.team.job import Job
from engine.roster.answer import Settings
from engine.team.people import people_by_content, team_of
from engine.team.privacy import Session
from engine.team.sensitivity import Ends
from tests.pages import markup, opened, pressed, typed
from tests.test_app_team import PEOPLE, _invented, invented  # noqa: F401

LONGEST_S = 60.0


class Held:
    """Work that waits in the middle until it is let go, and says whether it ended."""

    def __init__(self) -> None:
        self.go, self.left = threading.Event(), threading.Event()

    def __call__(self, tell) -> int:
        try:
            tell(0.5)
            self.go.wait(LONGEST_S)
            tell(1.0)
        finally:
            self.left.set()
        return 7


def test_a_job_says_how_far_it_is_and_what_it_found():
    work = Held()
    job = Job(work)
    assert not job.has_ended
    work.go.set()
    assert job.wait(LONGEST_S)
    assert (job.done, job.left_s, job.result()) == (1.0, 0.0, 7)


def test_what_goes_wrong_is_raised_where_the_result_is_asked_for():
    job = Job(lambda _: 1 // 0)
    assert job.wait(LONGEST_S)
    with pytest.raises(ZeroDivisionError):
        job.result()


def test_a_job_that_nobody_holds_any_more_stops_at_its_next_step():
    work = Held()
    job = Job(work)
    state = job._state
    del job
    gc.collect()
    assert state.stop.is_set()
    work.go.set()
    assert state.ended.wait(LONGEST_S)
    assert state.found is None


@pytest.fixture
def held(monkeypatch) -> Held:
    """The search of the page, held in the middle."""
    work = Held()

    def searched(rows, present, *, progress):
        work(progress)
        return team_work.Found(team_work.Asked(rows.good, present), invented(), rows.typed)

    monkeypatch.setattr(team_work, "searched", searched)
    monkeypatch.setattr(running, "AT_ONCE_S", 0.0)
    return work


def started():
    """The page with a search that is going on."""
    page = typed(opened("team"), **{"40_to_49,_at_a_monitor": str(PEOPLE)})
    return pressed(page, f"Compute for {PEOPLE} people")


def test_typing_a_price_does_not_stop_the_search(held):
    page = started()
    assert 'role="progressbar"' in markup(page)
    job = next(iter(drafts.BOOK._drafts.values())).results[running.JOB].job
    page = typed(page, One_eye_test="30")
    assert 'role="progressbar"' in markup(page)
    assert not job.has_ended
    held.go.set()
    assert job.wait(LONGEST_S)
    page.run()
    assert "People helped" in markup(page)


def test_deleting_the_answers_stops_the_search_and_forgets_it(held):
    page = started()
    job = next(iter(drafts.BOOK._drafts.values())).results[running.JOB].job
    state = job._state
    del job
    pressed(page, words.DELETE_ANSWERS)
    gc.collect()
    assert state.stop.is_set()
    held.go.set()
    assert state.ended.wait(LONGEST_S)
    assert state.found is None
    assert "People helped" not in markup(page.run())


def test_stop_ends_the_search_and_offers_it_again(held):
    page = pressed(started(), "Stop")
    held.go.set()
    assert 'role="progressbar"' not in markup(page)
    assert [one for one in page.button if one.label.startswith("Compute for")]
    assert held.left.wait(LONGEST_S)


def test_what_moves_it_is_looked_for_while_the_figures_stand(monkeypatch):
    work = Held()

    def ends_of(rows, present, *, progress):  # noqa: ARG001
        work(progress)
        return Ends(invented(), {"add_d": (invented(), invented())})

    monkeypatch.setattr(team_work, "ends_of", ends_of)
    monkeypatch.setattr(running, "AT_ONCE_S", 1.0)
    page = started()
    assert "Looking for what changes it most" in markup(page)
    assert "People helped" in markup(page)
    assert "first value named" not in markup(page)
    job = next(iter(drafts.BOOK._drafts.values())).results[running.JOB].job
    work.go.set()
    assert job.wait(LONGEST_S)
    said = markup(page.run())
    assert "first value named" in said
    assert "recomputed for at most 40 of the people" in said, "the team may be smaller"


def test_a_file_with_one_person_less_is_refused_before_it_is_computed():
    def rows(count: int) -> bytes:
        lines = [f"A-{at},{44 + at},monitor,24,6" for at in range(count)]
        return "\n".join(["ref,age_years,screen_kind,screen_in,hours_screen", *lines]).encode()

    session = Session()
    one, other = (team_work.read_file(rows(count)) for count in (16, 15))
    assert session.may_show(one.content)
    assert not session.would_show(other.content)
    assert session.would_show(one.content)
    team = team_of(one.good, settings=Settings(draws=1), assumed_present="sv_distance")
    assert people_by_content(team) == one.content, "known before as after"
