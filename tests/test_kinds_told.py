"""A kind of lens that was added is asked about and told like the others, not only computed."""

from __future__ import annotations

from collections import Counter

import pytest

from app.form import field_table
from engine import explain
from engine.case.model import Design
from engine.lenses.kinds import KINDS
from tests.caution_cases import case, option, told_of
from tests.test_lenses import orders


def words(kind: str, design: Design) -> str:
    """A design as it is told."""
    return explain.design_words(option(kind).model_copy(update={"design": design}))


@pytest.mark.parametrize("kind", KINDS)
def test_the_designs_that_can_be_ordered_are_told_apart(kind: str) -> None:
    """Equal words would drop a design from the list the optician orders from."""
    told = Counter(words(kind, design) for design in orders(kind, add_d=2.5, height_mm=22.0))
    assert all(told), f"{kind}: engine.explain.design_words has no word for its design"
    assert max(told.values(), default=1) == 1, f"{kind}: two designs in the same words, {told}"


def test_every_number_of_a_design_has_a_label_and_is_of_a_kind() -> None:
    asked = {name for kind in KINDS.values() for name in kind.design_fields}
    labels = {row.name: row.label for row in field_table.PAIR if row.model is Design}
    assert all(labels.values())
    assert asked == set(labels) == set(Design.model_fields)


def test_a_zone_above_the_add_is_told_whatever_number_it_comes_from(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    class Stronger(type(KINDS["sv_near"])):  # type: ignore[misc]
        """A reading lens with 0.75 more at its bottom, in no number of the design."""

        def zones(self, design: Design) -> tuple[tuple[str, float, bool], ...]:
            add_d = design.add_d or 0.0
            return ("upper", add_d, True), ("near", add_d + 0.75, True)

    for power_d, is_above in ((1.24, False), (1.25, False), (1.5, True)):
        lens = option("sv_near", add_d=power_d)
        assert not any(one.id == "above_prescribed_add" for one in told_of(case(), lens))
        with monkeypatch.context() as patch:
            patch.setitem(KINDS, "sv_near", Stronger())
            told = {one.id: one.values for one in told_of(case(), lens)}
        assert ("above_prescribed_add" in told) is is_above
        if is_above:
            assert told["above_prescribed_add"] == {"power_d": power_d + 0.75, "add_d": 2.0}
