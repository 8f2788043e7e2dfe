"""Define what a wearer can answer at home.

Frozen models, no power anywhere among them. A question not reached yet is None; a question passed
over is listed in `skipped`. Lengths are cm and kept to a millimetre, hours to a tenth.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal, get_args

from pydantic import AfterValidator, Field, ValidationError, model_validator

from engine import tables
from engine.case.model import Part
from engine.case.prescription import wrong
from engine.case.read import refusals
from engine.errors import Limits
from engine.home.numbers import number
from engine.lenses.kinds import KINDS
from engine.optics.workstation import screen_size_cm

if TYPE_CHECKING:
    from engine.lenses.kinds import Kind


Step = Literal[
    "flags", "age", "glasses", "coping", "screens", "distances", "heights", "reading", "others",
    "hours", "needs", "bothers", "tell",
]  # fmt: skip
STEPS: tuple[Step, ...] = get_args(Step)
"""The order of asking: warning signs, then twelve questions."""
MUST_ANSWER: frozenset[Step] = frozenset({"flags", "age", "screens"})
"""Without these nothing can be said."""
SCREEN_NAMES = ("main screen", "second screen", "third screen")
ASPECTS = {"usual": "16:9", "laptop": "16:10", "square": "5:4", "extra_wide": "43:18"}
"""Width to height of a picture by what it looks like."""


OTHER_WORDS = {
    "one_line": "bifocal_ft28",
    "two_lines": "trifocal_7x28",
    "bare_near": "unaided",
    "bare_far": None,
    "contacts": None,
    "unknown": None,
}
"""Kinds of lens that a wearer names differently."""


def choices(question: str) -> dict[str, str]:
    """Return the choices of a question, id and label, in order of their table.

    >>> list(choices("needs"))
    ['driving', 'stairs', 'walking']
    """
    if question == "age":
        return {row["id"]: row["label"] for row in tables.rows("home_ages")}
    rows = tables.rows("home_choices")
    return {row["choice"]: row["label"] for row in rows if row["question"] == question}


def _choice(question: str) -> AfterValidator:
    """Return one of the choices of a question."""

    def check(value: str) -> str:
        if value not in choices(question):
            raise ValueError(f"one of {', '.join(choices(question))}")
        return value

    return AfterValidator(check)


def _tenth(value: float) -> float:
    return round(value, 1) + 0.0


def _hours_of_a_day(value: float) -> float:
    if not 0 <= value <= 24:
        raise ValueError("0 to 24 hours")
    return _tenth(value)


Length = Annotated[float, AfterValidator(_tenth)]
"""cm, or inches of a diagonal, to one decimal."""


def _length(title: str, *, ge: float, le: float) -> Any:
    return Field(None, strict=True, ge=ge, le=le, title=title, json_schema_extra={"unit": "cm"})


class HomeScreen(Part):
    """One screen: what it is, where it stands, and how far and high it was measured."""

    form: Literal["screen", "laptop"] = "screen"
    size_in: Length = Field(
        strict=True, ge=7, le=60, title="size of the screen", json_schema_extra={"unit": "in"}
    )
    shape: Literal["usual", "square", "extra_wide"] = "usual"
    side: Literal["ahead", "left", "right"] = "ahead"
    movable: bool = True
    distance_cm: Length | None = _length("distance from your nose", ge=15, le=250)
    reach: Annotated[str, _choice("reach")] | None = None
    top_above_desk_cm: Length | None = _length("top edge above the desk", ge=1, le=150)

    @property
    def aspect(self) -> str:
        """Width to height of the picture."""
        return ASPECTS["laptop" if self.form == "laptop" else self.shape]

    @property
    def size_cm(self) -> tuple[float, float]:
        """Width and height of the picture in cm."""
        return screen_size_cm(diagonal_in=self.size_in, aspect=self.aspect)


class HomeReading(Part):
    """Something read at the desk or in the hand."""

    what: Annotated[str, _choice("reading")]
    distance_cm: Length | None = _length("distance from your nose", ge=15, le=150)


class HomeAnswers(Part):
    """All answers of one visit to the home check.

    Attributes:
        flags: warning signs of now or of the last weeks; none is an empty tuple.
        seen_by_doctor: a doctor has looked at them since, so they no longer end the asking.
    """

    flags: tuple[Annotated[str, _choice("flags")], ...] | None = None
    seen_by_doctor: bool = Field(False, strict=True)
    age: Annotated[str, _choice("age")] | None = None
    glasses: Annotated[str, _choice("glasses")] | None = None
    coping: tuple[Annotated[str, _choice("coping")], ...] | None = None
    lens_part: Annotated[str, _choice("lens_part")] | None = None
    screens: tuple[HomeScreen, ...] | None = Field(None, min_length=1, max_length=3)
    eyes_above_desk_cm: Length | None = _length("eyes above the desk", ge=10, le=120)
    reading: tuple[HomeReading, ...] | None = Field(None, max_length=3)
    others: tuple[Annotated[str, _choice("others")], ...] | None = None
    hours: dict[str, Annotated[float, AfterValidator(_hours_of_a_day)]] | None = None
    needs: tuple[Annotated[str, _choice("needs")], ...] | None = None
    bothers: tuple[Annotated[str, _choice("bothers")], ...] | None = None
    tell: tuple[Annotated[str, _choice("tell")], ...] | None = None
    skipped: tuple[Step, ...] = ()

    @model_validator(mode="after")
    def _fits_together(self) -> HomeAnswers:
        hours = self.hours or {}
        unknown = [name for name in hours if name not in self.things]
        if unknown:
            raise wrong("hours", unknown[0], f"one of {', '.join(self.things) or 'no thing'}")
        day_h, limits = sum(hours.values()), Limits(high=24, unit="h")
        if limits.side(day_h):
            raise wrong("hours", day_h, "24 hours at most for all of them", limits=limits)
        if any(step in MUST_ANSWER for step in self.skipped):
            raise wrong("skipped", "a question that is needed", "another question")
        return self

    @property
    def open_flags(self) -> tuple[str, ...]:
        """Warning signs that no doctor has looked at.

        >>> HomeAnswers(flags=("eye_injury",)).open_flags
        ('eye_injury',)
        >>> HomeAnswers(flags=("eye_injury",), seen_by_doctor=True).open_flags
        ()
        """
        return () if self.seen_by_doctor else self.flags or ()

    @property
    def things(self) -> tuple[str, ...]:
        """Names of all that is looked at, screens first."""
        screens = SCREEN_NAMES[: len(self.screens or ())]
        reading = tuple(one.what for one in self.reading or ())
        return screens + reading + (self.others or ())


def worn_kind(answers: HomeAnswers) -> str | None:
    """Return the kind worn at the screen, an id of lens_kinds.csv; None where it is not known.

    >>> worn_kind(HomeAnswers(glasses="one_line")), worn_kind(HomeAnswers(glasses="contacts"))
    ('bifocal_ft28', None)
    """
    return kind_of(answers.glasses)


def kind_of(glasses: str | None) -> str | None:
    """Return the kind of lens that an answer to the question about glasses names, if it does."""
    return OTHER_WORDS.get(glasses or "unknown", glasses)


def lens_of_answer(glasses: str | None) -> Kind | None:
    """Return the kind of lens that an answer to the question about glasses names, as it is."""
    return KINDS.get(kind_of(glasses) or "")


def have_parts(glasses: str | None) -> bool:
    """Tell whether the glasses of an answer have parts of different power.

    >>> have_parts("one_line"), have_parts("sv_near"), have_parts("contacts"), have_parts(None)
    (True, False, False, False)
    """
    kind = lens_of_answer(glasses)
    return kind is not None and kind.is_multifocal


def answers_from(content: dict[str, Any]) -> HomeAnswers:
    """Make answers out of plain values, or refuse the first that is wrong.

    Raises
        InputRefusedError: with the field, its value and what is allowed.
    """
    try:
        return HomeAnswers.model_validate(content)
    except ValidationError as error:
        raise refusals(error, model=HomeAnswers)[0] from None


def sideways_cm(screens: tuple[HomeScreen, ...], place: int) -> float:
    """Return how far the middle of a screen stands to the right, the pictures side by side."""
    screen, gap = screens[place], number("screen_gap_cm")
    if screen.side == "ahead":
        return 0.0
    ahead = [one.size_cm[0] for one in screens if one.side == "ahead"]
    away = (ahead[0] if ahead else -gap) / 2 + screen.size_cm[0] / 2 + gap
    return away if screen.side == "right" else -away
