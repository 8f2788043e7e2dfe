"""What the coordinator assumes: uptake, prices, what a change must earn."""

from __future__ import annotations

from dataclasses import dataclass

import streamlit as st

from app import team_words
from app.views.fields import Fields, two_to_a_row
from engine.errors import InputRefusedError
from engine.team import EARNS_H, Assumptions
from engine.team_privacy import DEFAULT_THRESHOLD


@dataclass(frozen=True)
class Said:
    """The assumptions that stand, and whether one typed was refused."""

    assumed: Assumptions
    threshold: int
    refused: bool


def assumptions(fields: Fields) -> Said:
    """The fields and what they come to; a refusal stands under its field."""
    st.header("What you assume", anchor=False)
    _html(
        '<p class="lg-quiet">A single number, or a range such as 120-180. Prices in any one '
        "currency. Blank is unknown, not free: a cost without its price is not shown.</p>"
    )
    places = two_to_a_row()
    fields.text(
        "team.uptake", "Of those offered, take it up (%)", assumed="100", place=next(places)
    )
    fields.text(
        "team.contribution_uptake",
        "The same with a fixed contribution (%)",
        assumed="as above",
        place=next(places),
    )
    fields.text(
        "team.earns_h",
        "Comfortable hours a day a change must earn",
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
    with st.expander("For the cost of one hour and the break-even"):
        places = st.columns(3, gap="small")
        for place, name, label in zip(
            places,
            ("team.days", "team.years", "team.value"),
            ("Working days a year", "Years a pair is worn", "What an hour is worth to you"),
            strict=True,
        ):
            fields.text(name, label, place=place)
    assumed, refused = team_words.assumptions(fields.answers)
    smallest = DEFAULT_THRESHOLD
    try:
        smallest = team_words.threshold(fields.answers["team.threshold"])
    except InputRefusedError as refusal:
        refused["team.threshold"] = refusal
    fields.say(refused)
    return Said(assumed, smallest, bool(refused))


def _html(text: str) -> None:
    st.markdown(text, unsafe_allow_html=True)
