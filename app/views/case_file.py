"""Open a file: a case, a record, a FHIR prescription or bundle, a visit file from home."""

from __future__ import annotations

import streamlit as st

from app import keeping, state, telling
from app.svg import escaped
from app.views import case_parts
from app.views.fields import alert
from engine.errors import InputRefusedError
from engine.exchange import LARGEST_UPLOAD_BYTES

KINDS = {
    "case": "A whole case.",
    "record": "A record of saves: the newest one is shown here.",
    "prescription": "A prescription, without a desk.",
    "bundle": "A prescription with desk and fit.",
    "visit": "A visit file: what the wearer measured at home. No power comes from it.",
}
OPEN = "open-file"
LARGEST_MB = LARGEST_UPLOAD_BYTES // 1_000_000


def open_a_file() -> None:
    """The uploader, what the file holds, and the button that takes it over."""
    st.header("Open a file", anchor=False)
    if state.pressed(OPEN):  # what was taken over has a draft of its own, and the file is forgotten
        st.switch_page(case_parts.INTERVIEW)
    given = st.file_uploader(
        "Case, record, FHIR prescription or bundle, or visit file (JSON)",
        type=["json"],
        max_upload_size=LARGEST_MB,
        key=state.passing("cases.file"),
    )
    if given is None:
        return
    try:
        found = keeping.read_file(given.getvalue())
    except InputRefusedError as refusal:
        said = telling.capital(keeping.trouble(refusal).removeprefix("file: "))
        _html(alert(f"The file was not opened. {said}. Nothing else changed."))
        return
    _html(f'<p class="lg-quiet">{escaped(KINDS[found.kind])}</p>')
    for line in found.lines:
        _html(f'<p class="lg-quiet">{escaped(line)}</p>')
    if found.whole:
        values = {**found.answers, "keep.label": found.label, keeping.NEWS: list(found.lines)}
        case_parts.open_button("Open the file in the Interview", values, key=OPEN)
        return
    if st.button(
        "Take the prescription into the answers",
        key="take-prescription",
        type="primary",
        on_click=state.put,
        args=(found.answers,),
    ):
        st.switch_page(case_parts.INTERVIEW)


def _html(text: str) -> None:
    st.markdown(text, unsafe_allow_html=True)
