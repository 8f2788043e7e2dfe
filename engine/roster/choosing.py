"""The pair to put first in each row of a roster: the rules of `answer.choice`, over pairs alone.

Plans are of one pair: a row says neither when its hours come nor who would swap. Of a row nobody
said what is liked, what it costs, or that a line is accepted; so only the pair worn today may have
one, and that pair is owned, neither liked nor disliked.
"""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

import numpy as np

from engine.answer.choice import Chosen, Compared, choose
from engine.answer.options import PRESENT
from engine.answer.plans import far_steps
from engine.case.model import Design
from engine.lenses.kinds import BARE_EYES, KINDS
from engine.roster.search import OPTIONS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from engine.lenses.kinds import Kind
    from engine.tables import Judgements

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]


def pairs_put_first(
    *,
    comfortable_h: Floats,
    sharp_h: Floats,
    served_h: Floats,
    low_h: Floats,
    sees_to_cm: Floats,
    is_same_design: Bools,
    present: NDArray[np.str_],
    knows_eyes: Bools,
    day_h: Floats,
    judgements: Judgements,
    among: Sequence[str],
) -> Chosen:
    """Choose one option for each row; plans are numbered in the order of OPTIONS.

    Parameters
        comfortable_h, sharp_h, served_h: (rows, options) expected, with the awkward ones, and with
            the blurred ones too; 0 where there is no such option.
        low_h: (rows, options) 10th percentile of the comfortable ones.
        sees_to_cm: (rows, options) infinite without a limit.
        is_same_design: (rows, options, options) two have the same numbers in every draw.
        present: (rows,) kind worn today, "" where none is known.
        knows_eyes: (rows,) the distance power is known; else no glasses are not put first.
        day_h: (rows,). among: options that compete.
    """
    shape = comfortable_h.shape
    kinds = [KINDS.get(name) for name in OPTIONS]
    may = (served_h > 0.0) & np.isin(OPTIONS, among)
    may &= ~np.array([kind is not None and kind.is_lined for kind in kinds])
    may[:, OPTIONS.index(BARE_EYES.id)] &= knows_eyes
    for later, earlier in itertools.product(range(len(OPTIONS)), repeat=2):
        gives_way = _gives_way(kinds[later], OPTIONS[earlier], present)
        may[:, later] &= ~(gives_way & is_same_design[:, later, earlier] & may[:, earlier])
    complexity = np.array([0 if kind is None else kind.complexity for kind in kinds])
    of_options = np.broadcast_to(complexity, shape).copy()
    of_options[:, OPTIONS.index(PRESENT)] = [
        KINDS[name].complexity if name in KINDS else 0 for name in present
    ]
    is_new = [int(kind is not None and kind.is_lens) for kind in kinds]
    is_bare = [kind is BARE_EYES for kind in kinds]
    none = np.zeros(shape, dtype=np.intp)
    return choose(
        Compared(
            may=may,
            comfortable_h=comfortable_h,
            sharp_h=sharp_h,
            low_h=low_h,
            new_pairs=np.broadcast_to(np.array(is_new), shape),
            pairs=none + 1,
            is_kept=np.broadcast_to(np.array(is_bare), shape),
            needs_served=none,
            has_new_line=none.astype(bool),
            is_worn_happily=none.astype(bool),
            own_cautions=none,
            cost=np.full(shape, np.nan),
            shows=far_steps(sees_to_cm),
            complexity=of_options,
        ),
        day_h=day_h,
        judgements=judgements,
    )


def _gives_way(kind: Kind | None, other: str, present: NDArray[np.str_]) -> Bools:
    """Return where a new pair of a kind is left out, since another option is the same, (rows,).

    To the one owned: of the same kind, or of one power as it is. For the screen, to a new one for
    reading.
    """
    if kind is None or not kind.is_lens or kind.id == other:
        return np.zeros(len(present), dtype=bool)
    if other == PRESENT:
        single = [name for name, one in KINDS.items() if one.is_single_vision and one.is_lens]
        return np.isin(present, single if kind.is_single_vision else [kind.id])
    is_reading = KINDS[other].is_single_vision and _zones(KINDS[other]) == ["near"]
    return np.full(len(present), kind.is_single_vision and is_reading)


def _zones(kind: Kind) -> list[str]:
    return [zone for zone, *_ in kind.zones(Design())]
