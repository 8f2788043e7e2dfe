"""The search as compiled code: lens point, surface, blur and window of one posture after another.

Importing this module needs numba, the extra `fast`; `engine.kernel.compiled` asks for it and does
without where it is missing. The functions below are those of `posture`, `families`, `surfaces` and
`clearness` in the same order of operations, one number at a time: nothing is written to memory but
what a posture of one point came to. Postures are tried from the far end of a window, so that one
that fails rules out every window it is in.

What is compiled is kept beside this file, and made anew when this file changes and no other. So
it imports nothing of ours: every number comes in as an argument.

Places in arrays that are asked for most are unsigned: a signed one may count from the end, and is
tested for it each time.
"""

# mypy: disable-error-code="no-untyped-def"
from __future__ import annotations

import math
from importlib import import_module
from typing import Any

import numpy as np

ROUNDING = 1e-9
UNIFORM, ON_SURFACE, TWO_POWERS, THREE_POWERS = range(4)
"""What a family is to this module."""
FORWARD, RIGHT, UP, DEMAND, LIMIT, GAZE_LOW, GAZE_HIGH, REACH = range(8)
"""Columns of the points."""
(STOP, BEND, COSINE, SINE, LENS_DOWN, LOWEST, HIGHEST, HALF_WIDTH, ADD, USABLE, EYES_FIRST,
 PROFILE_DOWN, DIFFERENCE, CYLINDER, HEAD_TURN, EYE_REACH, MOST_IMBALANCE, WEIGHT,
 SAMPLES) = range(19)  # fmt: skip
"""Columns of the wearers."""
THROUGH_LENS, IS_OWN, ANY_DIFFERENCE = range(3)
"""Limits of the band, and what is asked of it."""
KIND, SORT, TABLE, ADD_STATED, LOST, MORE, OWN_CYLINDER, LINE, MARGIN, BARE = range(10)
"""Columns of the families."""
HELD_FROM, RADIUS, TABLE_STEP, SEGMENT_HALF_WIDTH, TRIFOCAL_BAND, TRIFOCAL_SHARE = range(6)
"""Numbers all lenses have in common."""

_NEXT = np.uint64(1)
_numba = import_module("numba")
_options: dict[str, Any] = {"cache": True, "nogil": True, "error_model": "numpy"}
_njit = _numba.njit(**_options)


@_njit
def _on_surface(x, y, lens, tables, table, design, place, found):
    """Write power and astigmatism per dioptre of add, bilinear, into found[table, place]."""
    square = x * x + y * y
    if square > lens[HELD_FROM] ** 2:
        shrink = min(1.0, lens[HELD_FROM] / math.sqrt(square))
        x, y = x * shrink, y * shrink
    column, row = abs(x) / lens[TABLE_STEP], (y + lens[RADIUS]) / lens[TABLE_STEP]
    left, low = np.uint64(int(column)), np.uint64(int(row))
    right, up = column - left, row - low
    farther, higher = left + _NEXT, low + _NEXT
    for which in range(2):
        below = tables[table, design, left, low, which] * (1 - right)
        below += tables[table, design, farther, low, which] * right
        above = tables[table, design, left, higher, which] * (1 - right)
        above += tables[table, design, farther, higher, which] * right
        found[table, place, which] = below * (1 - up) + above * up


@_njit
def _segment(x, y, line, margin, half_width):
    """Tell whether it is in a flat-top segment, a pupil away from its line and sides."""
    below, within = -line - y, half_width - abs(x)
    clear_of_it = below <= -margin or within <= -margin
    return below > 0.0 and within > 0.0, clear_of_it or (below >= margin and within >= margin)


@_njit
def _sharp(added, weighted, demand, usable, limit):
    """Tell whether blur is within the limit; weighted astigmatism and the defocus make it."""
    left = limit * limit - weighted * weighted
    if not left >= -ROUNDING:
        return False
    off = max(demand - usable - ROUNDING - added, added - (demand + ROUNDING))
    return off <= 0.0 or off * off <= abs(left)


@_njit
def _weighted(own, cylinder, weight):
    """Return astigmatism as defocus, with what another prescription's cylinder leaves (-1: no).

    weight: what a dioptre of astigmatism counts against one of defocus.
    """
    return (math.hypot(own, cylinder) if cylinder >= 0.0 else own) * weight


@_njit
def clear_points(
    points,
    of_wearer,
    postures,
    wearers,
    eyes,
    band,
    tables,
    design,
    reference,
    lens,
    families,
    of_family,
    ratio,
    of_known,
    is_known,
    powers,
):
    """Tell whether some window of postures is clear, (points, columns).

    Parameters
        points: (points, 8). of_wearer: (points,).
        postures: (points, 2) first and one past the last that may be tried.
        wearers: (wearers, 19). band: (3,).
        eyes: (wearers or 1, postures, 3) how far forward and up the eye has moved, and the tangent
            of the chin-up.
        tables: (surfaces, designs, columns, rows, 2): postures go along a column, near in memory.
        design: (wearers,) which of the designs.
        reference: (kinds, wearers) drop of the prism reference.
        lens: (6,). families: (families, 10). of_family: (columns,) family of a column.
        ratio: (columns, 2) factor on the blur limit, and how many columns back it is smaller and
            all else the same; -1 nowhere.
        of_known, is_known: (columns,) and (n, points) points that are clear anyway; -1 none.
        powers: (wearers, columns) nan where there is no such lens.
    """
    count = eyes.shape[1]
    surfaces, columns = tables.shape[0], len(of_family)
    out = np.zeros((len(points), columns), dtype=np.bool_)
    state = np.zeros(count, dtype=np.int64)  # 2 n out, 2 n + 1 in, n the number of the point
    x_mm, y_mm = np.zeros(count), np.zeros(count)
    known = np.zeros((surfaces, count), dtype=np.int64)  # the number of the point
    found = np.zeros((surfaces, count, 2))
    through_lens, any_difference = band[THROUGH_LENS] > 0.0, band[ANY_DIFFERENCE] > 0.0
    for index in range(len(points)):
        who = of_wearer[index]
        first, end = postures[index, 0], postures[index, 1]
        samples = int(wearers[who, SAMPLES])
        if end - first < samples:
            continue
        point = index + 1
        forward_mm, right_mm = points[index, FORWARD], points[index, RIGHT]
        up_mm, demand = points[index, UP], points[index, DEMAND]
        gaze_low, gaze_high = points[index, GAZE_LOW], points[index, GAZE_HIGH]
        bend = 1.0 - wearers[who, BEND] * points[index, REACH]
        right_sq, aside = right_mm**2, abs(right_mm)
        stop, cosine, sine = wearers[who, STOP], wearers[who, COSINE], wearers[who, SINE]
        lens_down, lowest = wearers[who, LENS_DOWN], wearers[who, LOWEST]
        highest, half_width = wearers[who, HIGHEST], wearers[who, HALF_WIDTH]
        wearer_add, usable = wearers[who, ADD], wearers[who, USABLE]
        eyes_first = wearers[who, EYES_FIRST] if band[IS_OWN] > 0.0 else 0.0
        head_turn, reach = wearers[who, HEAD_TURN], wearers[who, EYE_REACH]
        weight = wearers[who, WEIGHT]
        difference, profile_down = wearers[who, DIFFERENCE], wearers[who, PROFILE_DOWN]
        made = design[who]
        seen = who if eyes.shape[0] > 1 else 0
        some_window, window_kind = -1, -1
        for column in range(columns):
            power = powers[who, column]
            if math.isnan(power):
                continue
            if of_known[column] >= 0 and is_known[of_known[column], index]:
                out[index, column] = True
                continue
            if ratio[column, 1] > 0.0 and out[index, column - int(ratio[column, 1])]:
                out[index, column] = True
                continue
            family = of_family[column]
            sort, table = int(families[family, SORT]), int(families[family, TABLE])
            kind = int(families[family, KIND])
            more, cylinder = families[family, MORE], families[family, OWN_CYLINDER]
            limit = ratio[column, 0] * points[index, LIMIT]
            if sort == UNIFORM:
                if any_difference and kind != window_kind:
                    some_window = -1
                window_kind = kind
                bare = families[family, BARE] * wearers[who, CYLINDER]
                weighted = _weighted(bare, cylinder, weight)
                if some_window == 0 or not _sharp(more + power, weighted, demand, usable, limit):
                    continue
                if some_window == 1:
                    out[index, column] = True
                    continue
            add = families[family, ADD_STATED]
            if math.isnan(add):
                add = wearer_add
            lost, line, margin = (
                families[family, LOST],
                families[family, LINE],
                families[family, MARGIN],
            )
            start, good_to, is_clear = first, first - 1, False
            while start + samples <= end:
                last = start + samples - 1
                at = last
                while at > good_to:
                    place = np.uint64(at)
                    if state[place] < 2 * point:
                        state[place] = 2 * point
                        forward = forward_mm - eyes[seen, place, 0]
                        chin = eyes[seen, place, 2]
                        level = math.sqrt(forward * forward + right_sq)
                        tangent = (eyes[seen, place, 1] - up_mm) / level
                        below_one = 1.0 - tangent * chin
                        if not (below_one > ROUNDING and forward > 0.0):
                            break
                        bent = (tangent + chin) / below_one / bend
                        if not (bent >= gaze_low and bent <= gaze_high):
                            break
                        sideways = aside / forward
                        turned = (sideways - head_turn) / (1.0 + sideways * head_turn)
                        turned = max(turned, 0.0)
                        if not turned <= reach:
                            break
                        if eyes_first > 0.0:
                            by_eye = math.tan(eyes_first * math.atan(sideways))
                            turned = max(turned, min(by_eye, reach))
                        bracket = cosine + bent * sine
                        y = lens_down - stop * bent / bracket
                        x = stop * turned * cosine / bracket
                        if through_lens and not (y >= lowest and y <= highest and x <= half_width):
                            break
                        x_mm[place], y_mm[place], state[place] = x, y, 2 * point + 1
                    if state[place] == 2 * point:
                        break
                    if any_difference:
                        height = y_mm[place] + reference[kind, who]
                        if not abs(difference * height / 10.0) <= wearers[who, MOST_IMBALANCE]:
                            break
                    if sort != UNIFORM:
                        if sort == ON_SURFACE:
                            if known[table, place] != point:
                                _on_surface(
                                    x_mm[place],
                                    y_mm[place] + profile_down,
                                    lens,
                                    tables,
                                    table,
                                    made,
                                    place,
                                    found,
                                )
                                known[table, place] = point
                            added = add * (found[table, place, 0] - lost) + more + power
                            own = add * found[table, place, 1]
                        else:
                            own = 0.0
                            inside, off_line = _segment(
                                x_mm[place], y_mm[place], line, margin, lens[SEGMENT_HALF_WIDTH]
                            )
                            if sort == TWO_POWERS:
                                added = (add if inside else power) + more
                            else:
                                in_near, off_second = _segment(
                                    x_mm[place],
                                    y_mm[place],
                                    line + lens[TRIFOCAL_BAND],
                                    margin,
                                    lens[SEGMENT_HALF_WIDTH],
                                )
                                off_line = off_line and off_second
                                part = lens[TRIFOCAL_SHARE] if inside else 0.0
                                added = (1.0 if in_near else part) * add + more + power
                            if not off_line:
                                break
                        weighted = _weighted(own, cylinder, weight)
                        if not _sharp(added, weighted, demand, usable, limit):
                            break
                    at -= 1
                if at <= good_to:
                    is_clear = True
                    break
                if state[at] == 2 * point:  # no column can use it: at either end it moves the end
                    if start == first:
                        first = at + 1
                    if at + 1 + samples > end:
                        end = at
                good_to, start = last, at + 1
            if sort == UNIFORM:
                some_window = 1 if is_clear else 0
            out[index, column] = is_clear
    return out
