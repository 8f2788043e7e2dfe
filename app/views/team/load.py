"""Ask who is in the team and what is assumed, and show how far the search is."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from typing import Any

import streamlit as st

from app.draw.svg import escaped
from app.form.fields import Fields, two_to_a_row
from app.form.html import alert, flag, html, quiet, table
from app.shell import internals, state
from app.views.team import words as team_words
from app.views.team import work as team_file
from engine.errors import InputRefusedError
from engine.lenses.kinds import KINDS
from engine.roster.template import HEADINGS, employer_csv, employer_xlsx
from engine.team.policies import EARNS_H, PAIR_WORN_YEARS, Assumptions
from engine.team.privacy import DEFAULT_THRESHOLD
from engine.team.tables import export_csv
from engine.wording import capital, say


@dataclass(frozen=True)
class Said:
    """The assumptions that stand, whether one typed was refused, whether uptake was said."""

    assumed: Assumptions
    threshold: int
    refused: bool
    uptake_said: bool


def assumptions(fields: Fields, *, tests_for_all: bool) -> Said:
    """Return the fields and what they come to; a refusal stands under its field."""
    st.header("What you assume", anchor=False)
    quiet(say("team_type_one_number_or"))
    places = two_to_a_row()
    fields.text(
        "team.uptake",
        "Uptake among those offered (%)",
        assumed="30-90",
        place=next(places),
    )
    fields.text(
        "team.contribution_uptake",
        "Uptake with a fixed contribution (%)",
        assumed="30-90",
        by="assumed, at most as above",
        place=next(places),
    )
    fields.text(
        "team.earns_h",
        "Least gain that counts (hours a day)",
        assumed=f"{EARNS_H:g}",
        place=next(places),
    )
    fields.text(
        "team.threshold",
        "Smallest group shown (people)",
        assumed=DEFAULT_THRESHOLD,
        place=next(places),
    )
    st.subheader("Prices", anchor=False)
    for (name, label), place in zip(team_words.PRICE_LABELS.items(), two_to_a_row(), strict=False):
        fields.text(f"team.price.{name}", label, place=place)
    fields.text("team.years", "Years a pair is worn", assumed=f"{PAIR_WORN_YEARS:g}")
    assumed, refused = team_words.assumptions(fields.answers, tests_for_all=tests_for_all)
    smallest = DEFAULT_THRESHOLD
    try:
        smallest = team_words.threshold(fields.answers["team.threshold"])
    except InputRefusedError as refusal:
        refused["team.threshold"] = refusal
    fields.say(refused)
    uptake_said = "team.uptake" not in refused and bool(fields.answers["team.uptake"].strip())
    return Said(assumed, smallest, bool(refused), uptake_said)


ROWS, NUMBER, REFUSED = "team.rows", "team.file_number", "team.file_refused"
"""What is kept with the draft: the rows read, how many files were, what was wrong with the last."""
HOURS_ASSUMED = {"hours_screen": "6", "hours_paper": "0"}
SHOWN_PROBLEMS = 200
SOURCES = {"bands": "type a table of age bands", "file": "choose a file of rows"}
TEMPLATES = {
    "xlsx": ("Download a spreadsheet to fill in", employer_xlsx),
    "csv": ("Download it as CSV, with one invented row", employer_csv),
}
"""By ending: what the button says, and what makes the file."""


def people(fields: Fields) -> team_file.Checked | None:
    """Ask for the team and return its rows, if there are any that can be computed."""
    st.header("Who is in the team", anchor=False)
    source = fields.either("team.source", "I will", list(SOURCES), words=lambda name: SOURCES[name])
    found = _bands(fields) if source == "bands" else _file()
    if found is not None and found.problems:
        _problems(found)
    if found is not None and found.doubts:
        _doubts(found)
    return found if found is not None and found.people else None


def present(fields: Fields) -> str:
    """Return what those wear of whom it is not known."""
    worn = [kind for kind in KINDS.values() if kind.is_lens]
    return fields.choice(
        "team.present",
        "Glasses to assume where a person's own are not known",
        [kind.id for kind in sorted(worn, key=lambda kind: not kind.has_corridor)],
        words=lambda name: KINDS[name].name(audience="wearer"),
    )


def _bands(fields: Fields) -> team_file.Checked | None:
    counts: dict[tuple[str, str], str] = {}
    quiet(say("team_how_many_people_each"))
    for band, words in team_file.BANDS.items():
        places = st.columns(2, gap="small", wrap=False)
        for place, (kind, where) in zip(places, team_file.SCREENS.items(), strict=True):
            name = f"team.{band}.{kind}"
            counts[band, kind] = fields.text(name, f"{words}, {where}", place=place)
    with st.expander("Screens and hours of everyone"):
        left, right = st.columns(2, gap="small", wrap=False)
        sizes = {
            kind: fields.text(
                f"team.size.{kind}",
                f"{capital(kind)}, diagonal (in)",
                assumed=team_file.SIZE_ASSUMED_IN[kind],
                place=place,
            )
            or team_file.SIZE_ASSUMED_IN[kind]
            for kind, place in (("monitor", left), ("laptop", right))
        }
        left, right = st.columns(2, gap="small", wrap=False)
        hours = {
            name: fields.text(
                f"team.{name}", f"Hours a day at {what}", assumed=HOURS_ASSUMED[name], place=place
            )
            or HOURS_ASSUMED[name]
            for name, what, place in (
                ("hours_screen", "the screen", left),
                ("hours_paper", "papers", right),
            )
        }
    try:
        frame = team_file.banded(counts, sizes=sizes, hours=hours)
    except InputRefusedError as refusal:
        fields.say({refusal.field: refusal})
        return None
    return team_file.checked(frame, typed=True) if len(frame) else None


def _file() -> team_file.Checked | None:
    kept = state.results()
    quiet(say("team_one_row_for_each"))
    for place, ending in zip(st.columns(2), TEMPLATES, strict=True):
        _template(ending, place)
    with st.expander("What the columns mean"):
        html(table("Columns of the file", HEADINGS, team_file.header_words()))
        quiet(say("team_as_written"))
    limit = min(team_file.MOST_MB, int(st.get_option("server.maxUploadSize")))
    given = st.file_uploader(
        f"List of people (.xlsx, .ods or .csv, at most {team_file.MOST_ROWS:,} rows)",
        type=["xlsx", "ods", "csv", "tsv", "txt"],
        max_upload_size=limit,
        key=state.passing(f"file {kept.get(NUMBER, 0)}"),
    )
    if given is not None:
        _take(given)
    if REFUSED in kept:
        html(alert(f"{say('team_file_not_read')} {kept[REFUSED]}"))
    found: team_file.Checked | None = kept.get(ROWS)
    if found is not None:
        good = found.rows - found.bad_rows
        said = say(
            "team_read_rows_them_good",
            rows=f"{found.rows:,}",
            good=f"{good:,}",
            people=_counted(found),
        )
        html(f'<p class="lg-quiet lg-done" role="status">{escaped(said)}</p>')
        if found.notes:
            quiet(" ".join(found.notes))
    return found


def _template(ending: str, place: Any) -> None:
    """Offer a list to fill in, without any power; as a spreadsheet where the extra is installed."""
    label, make = TEMPLATES[ending]
    with suppress(InputRefusedError):
        place.download_button(
            label,
            make(),
            file_name=f"team-template.{ending}",
            on_click="ignore",
            width="stretch",
            key=state.passing(f"template {ending}"),
        )


def _counted(found: team_file.Checked) -> str:
    young = f", {found.young:,} of them too young to need other glasses" if found.young else ""
    return f"{found.people:,} people{young}"


def _take(given: Any) -> None:
    """Read the file at once and let the page library's own copy go."""
    kept = state.results()
    before = f" {say('team_file_before_gone')}" if kept.pop(ROWS, None) is not None else ""
    kept.pop(REFUSED, None)
    try:
        kept[ROWS] = team_file.read_file(given.getvalue())
    except InputRefusedError as refusal:
        kept[REFUSED] = f"{capital(refusal.sentence)}{before}"
    internals.forget_upload(given)
    kept[NUMBER] = kept.get(NUMBER, 0) + 1
    st.rerun()


def _doubts(found: team_file.Checked) -> None:
    """Show unusual values: often a wrong unit, or a decimal point that is missing."""
    count = len(found.doubts)
    shown = team_words.problem_cells(found.doubts[:SHOWN_PROBLEMS])
    caption = say("team_unusual_values")
    if count > SHOWN_PROBLEMS:
        caption += f" First {SHOWN_PROBLEMS} of {count}."
    html(table(caption, ("Row", "Column", "Value", "What is usual"), shown))


def _problems(found: team_file.Checked) -> None:
    count = len(found.problems)
    rows = f"{found.bad_rows} row{'s' if found.bad_rows > 1 else ''}"
    flag(say("team_rows_left_out", rows=rows))
    shown = found.problems[:SHOWN_PROBLEMS]
    headings = ("Row", "Column", "Value", "What is allowed")
    caption = "Rows left out" if count <= SHOWN_PROBLEMS else f"Rows left out: first of {count}"
    html(table(caption, headings, team_words.problem_cells(shown)))
    st.download_button(
        "Download the list of rows left out",
        export_csv(team_words.problem_frame(found.problems)),
        file_name="rows-left-out.csv",
        mime="text/csv",
        on_click="ignore",
        key=state.passing("problems"),
    )
