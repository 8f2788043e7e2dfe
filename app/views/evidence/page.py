"""Show each claim with its source, what is left out, the judgements, and what is kept private."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

import streamlit as st

from app.draw.svg import escaped
from app.form.fields import picked
from app.form.html import html, quiet, table
from app.shell import words
from app.views.evidence import trials, worth
from engine.answer.sources import name_of_judgement, value_of_judgement
from engine.tables import rows
from engine.wording import capital, say

Row = Mapping[str, str]
EVERY = "every topic"
ANY = "however sure"
SURE = {
    "well shown": "several studies, a law of geometry, or a plain fact",
    "likely": "one good study, or several that agree",
    "uncertain": "small, unblinded, indirect, or studies disagree",
    "not shown": "looked for and not found, or no better than chance",
}


def what_sure_means() -> str:
    """Show the four words and what each stands for."""
    said = "; ".join(f"<b>{escaped(word)}</b>: {escaped(SURE[word])}" for word in SURE)
    return f'<p class="lg-quiet">{said}.</p>'


def chosen(every: Sequence[Row], *, topic: str, sure: str) -> list[Row]:
    """Return the claims of a topic that are as sure as asked."""
    return [row for row in every if topic in (EVERY, row["topic"]) and sure in (ANY, row["sure"])]


def counted(shown: Sequence[Row], of: int) -> str:
    """Say how many claims are shown and how sure they are."""
    if not shown:
        return say("evidence_none_claims_choose_another", of=of)
    by_word = Counter(row["sure"] for row in shown)
    parts = [f"{by_word[word]} {word}" for word in SURE if by_word[word]]
    return f"{len(shown)} of {of} claims: {', '.join(parts)}"


def claims(shown: Sequence[Row]) -> str:
    """Return the claims as a list; every word is escaped."""
    return f'<ul class="lg-claims">{"".join(_claim(row) for row in shown)}</ul>'


def _claim(row: Row) -> str:
    return (
        f'<li><p class="lg-claim">{escaped(row["claim"])} '
        f'<span class="lg-sure">{escaped(row["sure"])}</span></p>'
        f'<p class="lg-found">{escaped(capital(row["result"]))}.</p>'
        f'<p class="lg-from">{escaped(capital(row["design"]))}; {escaped(row["people"])}. '
        f"{escaped(with_doi(row))}.</p></li>"
    )


def with_doi(row: Row) -> str:
    """Return a source with its DOI where one is known."""
    known = row["doi"] != "-"
    return f"{row['source']}, doi {row['doi']}" if known else row["source"]


def left_out(every: Sequence[Row]) -> str:
    """Show what the model leaves out and what follows from it."""
    said = "".join(
        f'<li><p class="lg-claim">{escaped(row["what"])}</p>'
        f'<p class="lg-found">{escaped(row["so"])}</p></li>'
        for row in every
    )
    return f'<ul class="lg-claims">{said}</ul>'


def protection(every: Sequence[Row]) -> str:
    """Return what is kept from whom, and what is not, as a list; every word is escaped."""
    said = "".join(
        f'<li><p class="lg-claim">{escaped(row["against"])} '
        f'<span class="lg-sure">{escaped(row["held"])}</span></p>'
        f'<p class="lg-found">{escaped(row["text"])}</p></li>'
        for row in every
    )
    return f'<ul class="lg-claims">{said}</ul>'


def page() -> None:
    """Show the page from top to bottom."""
    st.title(words.PAGES["evidence"], anchor=False)
    quiet(say("evidence_what_program_based_on"))
    _claims(rows("evidence"))
    trials.show()
    st.header("What the model leaves out", anchor=False)
    html(left_out(rows("left_out")))
    st.header("Judgements", anchor=False)
    _judgements(rows("judgements"))
    worth.show()
    st.header("What is kept from whom", anchor=False)
    html(protection(rows("protection")))


def _claims(every: Sequence[Row]) -> None:
    st.header("Claims", anchor=False)
    html(what_sure_means())
    left, right = st.columns(2)
    topics = [EVERY, *dict.fromkeys(row["topic"] for row in every)]
    topic = picked("evidence.topic", "Topic", topics, place=left)
    sure = picked("evidence.sure", "How sure", [ANY, *SURE], place=right)
    shown = chosen(every, topic=topic, sure=sure)
    html(f'<p class="lg-quiet" role="status">{escaped(counted(shown, len(every)))}</p>')
    html(claims(shown))


def _judgements(every: Sequence[Row]) -> None:
    quiet(say("evidence_numbers_we_chose_ourselves"))
    with st.expander(f"All {len(every)} judgements"):
        listed = [
            (
                capital(name_of_judgement(row["id"])),
                value_of_judgement(row),
                row["reason"],
                row["source"],
            )
            for row in every
        ]
        html(table("Judgements", ("What", "Value", "Why", "Source"), listed))


page()
