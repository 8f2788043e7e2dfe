"""Say which papers and judgements one answer rests on, the strongest first.

What an answer reads is noted while it is computed: `advise(case, judgements=Reading.standard())`.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields
from typing import TYPE_CHECKING

from engine import tables
from engine.case.prescription_doubts import NO_SOURCE
from engine.kernel.draws import height_field
from engine.tables import Judgements
from engine.wording import minus, say, unit_after

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from engine.case.model import Case
    from engine.case.results import Result

_NAMES = frozenset(field.name for field in fields(Judgements))
STRENGTH = ("measured", "standard", "derived", "memory", "judgement")
"""The statuses of a row from the strongest to the weakest."""
STRENGTH_WORDS = {
    "measured": "Measured in a study",
    "standard": "From a standard, a textbook or a rule of the trade",
    "derived": "Worked out from measured values",
    "memory": "From memory, not looked up",
    "judgement": "Judged by the authors",
}
_OURS = "judgement of the authors"
_UNITS = {"deg", "d", "cm", "mm", "h", "pd", "arcmin", "years", "days", "share"}


class Reading(Judgements):
    """The shipped judgements, noting which of them are read.

    Two are never the same, so nothing that was kept for one is taken for the other.
    """

    __hash__ = object.__hash__

    def __eq__(self, other: object) -> bool:
        return self is other

    def __getattribute__(self, name: str) -> object:
        if name in _NAMES:
            noted: set[str] = object.__getattribute__(self, "__dict__").setdefault("_read", set())
            noted.add(name)
        return object.__getattribute__(self, name)

    @classmethod
    def standard(cls) -> Reading:
        """Return the judgements as shipped, none of them read yet."""
        return cls(**asdict(Judgements.standard()))

    @property
    def read(self) -> frozenset[str]:
        """The names read so far."""
        noted: set[str] = self.__dict__.get("_read", set())
        return frozenset(noted)


@dataclass(frozen=True)
class Source:
    """One source of an answer.

    Attributes:
        status: how good it is, one of `STRENGTH`. gives: what the answer took from it, in words.
    """

    source: str
    status: str
    gives: tuple[str, ...]


def sources(case: Case, result: Result, *, read: frozenset[str]) -> tuple[Source, ...]:
    """Return what an answer rests on, the strongest first; within a strength as first used.

    read: the judgements that were read while it was computed (`Reading.read`).
    """
    gives: dict[tuple[str, str], dict[str, None]] = {}
    for row, text in _used(case, result, read):
        source = _OURS if row["source"].startswith(_OURS) else row["source"]
        gives.setdefault((row["status"], source), {})[text] = None
    found = [Source(source, status, tuple(texts)) for (status, source), texts in gives.items()]
    return tuple(sorted(found, key=lambda one: (STRENGTH.index(one.status), _is_nobody(one))))


def told(found: tuple[Source, ...]) -> Iterator[tuple[str, list[str]]]:
    """Give each strength in words, and a line for each source of it."""
    for status in STRENGTH:
        lines = [f"{one.source}: {'; '.join(one.gives)}" for one in found if one.status == status]
        if lines:
            yield STRENGTH_WORDS[status], lines


def name_of_judgement(identity: str) -> str:
    """Return what a judgement is, as a person says it.

    >>> name_of_judgement("comfortable_gaze_down_min_deg")
    'highest comfortable look up'
    """
    return say(f"judgement_{identity}")


def value_of_judgement(row: Mapping[str, str], column: str = "value") -> str:
    """Return a value of a judgement with its unit.

    The least angles are against their direction and negative in the table; the name says up or
    down already, so they have no sign here.

    >>> [value_of_judgement(tables.by_id("judgements")[name])
    ...  for name in ("comfortable_gaze_down_min_deg", "usable_blur_ratio", "sv_computer_min_d")]
    ['5°', '1.7', '0.50 D']
    """
    is_directed = row["id"].endswith("_min_deg")
    text = row[column].removeprefix("-") if is_directed else minus(row[column])
    return f"{text}{unit_after(row['unit'])}"


def name_in_words(identity: str) -> str:
    """Return the id of an assumed spread or a caution as words, without its unit.

    >>> name_in_words("near_test_distance_cm")
    'near test distance'
    """
    parts = identity.split("_")
    return " ".join(parts[:-1] if parts[-1] in _UNITS else parts)


def _used(
    case: Case, result: Result, read: frozenset[str]
) -> Iterator[tuple[Mapping[str, str], str]]:
    """Yield rows of the tables that the answer took something from, and what."""
    for row in tables.rows("judgements"):
        if row["id"] in read:
            yield row, f"{name_of_judgement(row['id'])} ({value_of_judgement(row)})"
    if result.usable_accommodation_d.basis == "age" and result.provisional:
        yield tables.rows("usual_add_by_age")[0], "usual add for the age"
    for row in tables.rows("measuring_errors"):
        yield row, f"spread of {row['words']} {row['spread']}{unit_after(row['unit'])}"
    for row in tables.rows("assumed_spreads"):
        if row["applies_to"] in _assumed(case).get(row["id"], set()):
            what = name_in_words(row["id"])
            spread = f"{row['spread']}{unit_after(row['unit'])}"
            yield row, f"spread of an assumed {what} ({row['applies_to']}) {spread}"
    for told_of in _cautions(result):
        yield tables.by_id("cautions")[told_of], f"caution {name_in_words(told_of)}"


def _assumed(case: Case) -> dict[str, set[str]]:
    """Give values that nobody measured: what each belongs to, by the ids of assumed_spreads.csv."""
    found: dict[str, set[str]] = {}
    for place, target in enumerate(case.targets):
        for name in ("distance_cm", height_field(target), "tilt_deg", "text_height_mm"):
            if case.is_assumed(f"/targets/{place}/{name}"):
                found.setdefault(name, set()).add(target.kind)
    for part in ("fit", "wearer"):
        for row in tables.rows("assumed_spreads"):
            if row["applies_to"] == part and case.is_assumed(f"/{part}/{row['id']}"):
                found.setdefault(row["id"], set()).add(part)
    if case.wearer.near_test_distance_cm is None:
        found.setdefault("near_test_distance_cm", set()).add("wearer")
    return found


def _cautions(result: Result) -> Iterator[str]:
    """Name the cautions of the case, and those of the pairs of the plan put first."""
    yield from (caution.id for caution in result.cautions)
    for option in result.chosen_options:
        yield from (caution.id for caution in option.cautions)


def _is_nobody(source: Source) -> bool:
    """Tell whether it is no paper, standard or rule: those come last in a strength."""
    return source.source.startswith((_OURS, NO_SOURCE))
