"""The clock jumps back or on, summer time begins or ends, the zone of the computer is another.

The zones are written out (POSIX), so that no list of zones need be installed, and are those the
system itself reckons with.
"""

from __future__ import annotations

import html
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from app.form import keep, slip
from app.shell import drafts
from app.shell.drafts import EXPIRY_S, DraftBook
from app.views.collection import typed_pair
from app.views.collection import words as collection_words
from app.views.team.law_words import law_list
from engine import units
from engine.collection.followup import follow_up_dates
from engine.errors import InputRefusedError
from engine.files.store import StaleError, Store
from engine.team.law import cards

ROOT = Path(__file__).resolve().parent.parent
BERLIN = "CET-1CEST,M3.5.0,M10.5.0/3"
ADELAIDE = "ACST-9:30ACDT,M10.1.0,M4.1.0/3"
HONOLULU = "HST10"
KIRITIMATI = "<+14>-14"
NOON = datetime(2026, 5, 4, 12, 0, tzinfo=UTC)
CASE = "engine/examples/low_24in.json"


def in_zone(zone: str, *command: str) -> str:
    """What a process prints on a computer in that zone."""
    ran = subprocess.run(
        [sys.executable, *command],
        cwd=ROOT, env=os.environ | {"TZ": zone}, capture_output=True, text=True, check=True,
    )  # fmt: skip
    return ran.stdout.strip()


@contextmanager
def zone_of_this_computer(zone: str) -> Iterator[None]:
    """As if the zone were changed while the program runs."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TZ", zone)
        time.tzset()
        yield
    time.tzset()


class Clock:
    """A clock that is set by hand."""

    def __init__(self, now: datetime) -> None:
        self.now = now

    def __call__(self) -> datetime:
        return self.now


# Saves


def save(store: Store, label: str, expected: int | None = None) -> int:
    text = f'{{"label": "{label}", "n": {expected or 0}}}'
    return store.save(label=label, case_json=text, expected_revision=expected).revision


@pytest.mark.parametrize("jump", [timedelta(hours=-1), timedelta(days=-20000), timedelta(days=999)])
def test_a_clock_that_jumps_between_two_saves_loses_none(tmp_path: Path, jump: timedelta) -> None:
    """Which save is the newest is told by its number, never by its time."""
    clock = Clock(NOON)
    with Store(tmp_path / "cases.sqlite3", clock=clock) as store:
        assert save(store, "A") == 1
        clock.now += jump
        assert save(store, "A", 1) == 2
        assert save(store, "B") == 1
        with pytest.raises(StaleError):
            save(store, "A", 1)
        kept = store.open(label="A")
        assert kept.entry.revision == 2
        assert '"n": 1' in kept.case_json
        times = [entry.saved_at for entry in store.revisions(label="A")]
        assert times == [NOON, NOON + jump]
        listed = [entry.saved_at for entry in store.entries()]
        assert len(listed) == 2
        assert listed == sorted(listed, reverse=True)


def test_two_saves_at_one_moment_stand_side_by_side(tmp_path: Path) -> None:
    """A clock that stands still, or is set back to the very moment."""
    with Store(tmp_path / "cases.sqlite3", clock=Clock(NOON)) as store:
        for number in range(3):
            assert save(store, "A", number or None) == number + 1
        assert [entry.revision for entry in store.revisions(label="A")] == [1, 2, 3]
        assert store.open(label="A").entry.revision == 3


def test_a_save_is_written_down_in_one_zone_wherever_it_is_made(tmp_path: Path) -> None:
    """Saved in one zone, read in another: the same moment, told in local time."""
    path = tmp_path / "cases.sqlite3"
    moment = NOON.astimezone(datetime.strptime("+1400", "%z").tzinfo)
    with Store(path, clock=Clock(moment)) as store:
        save(store, "A")
        (entry,) = store.entries()
    assert entry.saved_at == NOON
    assert entry.saved_at.utcoffset() == timedelta(0)
    found = []
    for zone in (BERLIN, ADELAIDE, HONOLULU, KIRITIMATI):
        with zone_of_this_computer(zone), Store(path) as store:
            (entry,) = store.entries()
            found.append(keep.when_words(entry.saved_at, now=NOON))
    assert found == ["14:00", "21:30", "02:00", "02:00"]


# "saved 14:05"


@pytest.mark.parametrize(
    ("zone", "at", "now", "words"),
    [
        # The last Sunday of October: 02:30 comes twice in Berlin, first by summer time.
        (BERLIN, "2026-10-25T00:30", "2026-10-25T00:40", "02:30"),
        (BERLIN, "2026-10-25T00:30", "2026-10-25T01:40", "02:30 CEST"),
        (BERLIN, "2026-10-25T01:30", "2026-10-25T01:40", "02:30"),
        # The last Sunday of March: 02:00 to 03:00 is left out.
        (BERLIN, "2026-03-29T00:55", "2026-03-29T01:05", "01:55 CET"),
        (BERLIN, "2026-03-29T01:05", "2026-03-29T10:00", "03:05"),
        # Saved in summer, read in winter: the time the clock on the wall showed.
        (BERLIN, "2026-07-01T12:00", "2026-12-01T12:00", "1 July, 14:00"),
        # The same two moments are on one day here and on two days there.
        (BERLIN, "2026-05-04T21:50", "2026-05-04T22:10", "4 May, 23:50"),
        (HONOLULU, "2026-05-04T21:50", "2026-05-04T22:10", "11:50"),
        (KIRITIMATI, "2025-12-31T09:50", "2026-01-01T09:50", "31 December 2025, 23:50"),
        # The clock was set back after the save, by minutes and by more.
        (BERLIN, "2026-05-04T12:04", "2026-05-04T12:00", "14:04"),
        (BERLIN, "2026-05-04T13:05", "2026-05-04T12:05", "15:05 by a clock ahead of this one"),
        (BERLIN, "2026-05-04T13:05", "1970-01-01T00:00",
         "4 May 2026, 15:05 by a clock ahead of this one"),
    ],
)  # fmt: skip
def test_the_time_of_a_save_is_told_as_the_clock_on_the_wall_showed_it(
    zone: str, at: str, now: str, words: str
) -> None:
    moment, moment_now = (datetime.fromisoformat(f"{text}+00:00") for text in (at, now))
    with zone_of_this_computer(zone):
        assert keep.when_words(moment, now=moment_now) == words


def test_a_zone_that_changes_while_the_program_runs_is_followed() -> None:
    held = {keep.SAVED_AT: NOON.isoformat(), keep.DIGEST: "x"}
    for zone, words in ((BERLIN, "14:00"), (ADELAIDE, "21:30"), (HONOLULU, "02:00")):
        with zone_of_this_computer(zone):
            said = keep.kept_words(held, None, now=NOON + timedelta(minutes=1))
        assert said == f"unsaved changes since {words}"


# Drafts


def test_a_draft_lives_by_a_clock_that_never_jumps(monkeypatch: pytest.MonkeyPatch) -> None:
    """The clock on the wall may say what it likes; only time that passed ends a draft."""
    book = DraftBook()
    token = book.start().token
    for wall in (0.0, time.time() - 1e8, time.time() + 1e9):
        monkeypatch.setattr(time, "time", lambda wall=wall: wall)
        assert book.find(token) is not None
    assert drafts.BOOK._clock is drafts.passed_s


def test_a_draft_does_not_outlive_a_night_in_which_the_computer_sleeps() -> None:
    """In a process whose clocks of sleep run ahead: awake 0 s more, asleep for ten hours."""
    asleep_s = 36_000
    tell = (
        "from app.shell.drafts import passed_s; import time; print(passed_s() - time.monotonic())"
    )
    began = in_zone(BERLIN, "-c", tell)
    ahead = ["unshare", "--user", "--map-root-user", "--time", f"--boottime={asleep_s}"]
    later = subprocess.run(
        [*ahead, sys.executable, "-c", tell], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert later.returncode == 0, f"no namespace with clocks of its own here: {later.stderr}"
    # Two starts of a process lie between both readings of two clocks that run alike.
    assert abs(float(later.stdout) - float(began) - asleep_s) <= 1.0


def test_a_draft_ends_after_the_hours_that_passed() -> None:
    passed = [0.0]
    book = DraftBook(clock=lambda: passed[0])
    token = book.start().token
    passed[0] = EXPIRY_S - 1
    assert book.find(token) is not None
    passed[0] += EXPIRY_S - 1
    assert book.find(token) is not None
    passed[0] += EXPIRY_S + 1
    assert book.find(token) is None


# Days


@pytest.mark.parametrize("collected", [date(2028, 2, 15), date(2026, 10, 12), date(2026, 12, 20)])
def test_follow_up_days_are_counted_in_days(collected: date) -> None:
    """Over the end of summer time, a leap day and a year: days, not hours."""
    found = follow_up_dates(collected=collected)
    assert (found.decide_by - collected).days == 42
    assert found.first.weekday() == collected.weekday()


@pytest.mark.parametrize("text", ["9999-12-31", "9999-11-20", "0000-01-01", "2030-02-29", "soon"])
def test_a_day_after_which_there_are_no_days_is_refused(text: str) -> None:
    with pytest.raises(InputRefusedError, match="a day such as 2 Jan 2030"):
        typed_pair.read_day(text, otherwise=date(2030, 1, 1))


@pytest.mark.parametrize(
    "text", ["2026-11-28", "28 Nov 2026", "28 november 2026", "28. Nov. 2026", " 28 Nov, 2026 "]
)
def test_a_day_is_read_where_it_has_one_reading(text: str) -> None:
    assert units.parse_day(text, field="day") == date(2026, 11, 28)


@pytest.mark.parametrize(
    "text",
    [
        *("03/04/2026", "3.4.2026", "3-4-2026", "4 3 2026", "20260403", "2026-4-3", "2026-W14-5"),
        *(
            "31 Feb 2026",
            "2026-02-30",
            "3 Ju 2026",
            "3 Junk 2026",
            "3 Apr 26",
            "3 Apr",
            "",
            "0 May 2026",
        ),
    ],
)
def test_a_day_with_two_readings_or_none_is_refused(text: str) -> None:
    with pytest.raises(InputRefusedError, match=r"day: .* 2 Jan 2030 or 2030-01-02"):
        units.parse_day(text, field="day")


def test_every_day_of_a_year_is_read_as_it_is_written() -> None:
    for at in range(366):
        day = date(2028, 1, 1) + timedelta(days=at)
        assert units.parse_day(units.day_words(day), field="day") == day


def test_a_pair_collected_on_a_day_still_to_come_has_its_days_told() -> None:
    """A clock that is behind must not refuse the day that is on the desk."""
    day = typed_pair.read_day("2031-03-01", otherwise=date(1970, 1, 1))
    lines = collection_words.date_lines(follow_up_dates(collected=day))
    assert lines[0].startswith("Call first on 15 March 2031")


def test_a_slip_refused_by_a_clock_ahead_says_which_day_the_computer_has(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(slip, "_today", lambda: date(2099, 1, 1))
    with pytest.raises(InputRefusedError, match="by this computer it is 1 January 2099"):
        slip._day("2028-03-01", slip.NEXT)
    monkeypatch.setattr(slip, "_today", lambda: date(1970, 1, 1))
    for name in (slip.NEXT, slip.TEST_DATE):
        assert slip._day("2028-03-01", name) == date(2028, 3, 1)


# Rules of law


@pytest.mark.parametrize(
    ("today", "stale", "behind"),
    [
        (date(1970, 1, 1), False, True),
        (date(2026, 11, 23), False, True),
        (date(2026, 11, 24), False, False),  # the day before, in a zone behind
        (date(2026, 11, 25), False, False),
        (date(2027, 11, 24), False, False),
        (date(2027, 11, 25), True, False),
        (date(9999, 12, 31), True, False),
    ],
)
def test_a_rule_says_when_its_age_is_too_much_or_cannot_be_told(
    today: date, stale: bool, behind: bool
) -> None:
    found = cards(country="Ireland", today=today)
    for card in found:
        assert (card.stale, card.clock_behind) == (stale, behind)
        assert bool(card.warning) == (stale or behind)
    said = html.unescape(law_list(found))
    assert ("the law may have changed" in said) == stale
    assert ("Set its date, or the age of this rule is not known" in said) == behind


@pytest.mark.parametrize(
    ("checked", "today", "stale"),
    [("2024-02-29", "2025-02-28", False), ("2024-02-29", "2025-03-01", True)],
)
def test_a_rule_checked_on_a_leap_day_is_a_year_old_on_the_first_of_march(
    checked: str, today: str, stale: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    from engine import tables
    from engine.team import law as team_rules

    rows = [row | {"date_checked": checked} for row in map(dict, tables.rows("country_rules"))]
    monkeypatch.setattr(team_rules.tables, "rows", lambda _: rows)
    found = cards(country="United Kingdom", today=date.fromisoformat(today))
    assert [card.stale for card in found] == [stale] * len(found)


# Answers


def test_an_answer_does_not_hang_on_the_clock_or_the_zone() -> None:
    command = ("-m", "engine", "advise", CASE)
    assert len({in_zone(zone, *command) for zone in (BERLIN, KIRITIMATI)}) == 1
