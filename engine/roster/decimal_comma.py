"""Write a table as an office with decimal commas opens it: semicolons between the cells."""

from __future__ import annotations

import csv
import io
import re

_DECIMAL = re.compile(r"-?\d+\.\d+")


def with_decimal_commas(table: str) -> str:
    r"""Return the lines of a table with `;` between cells and `,` in cells that are numbers.

    No `ref` of a roster looks like one: points are refused there.

    >>> with_decimal_commas("1,A-017,7.5,\"a, 1.5 b\"\n")
    '1;A-017;7,5;a, 1.5 b\n'
    """
    out = io.StringIO()
    writer = csv.writer(out, delimiter=";", lineterminator="\n")
    for cells in csv.reader(io.StringIO(table), strict=True):
        writer.writerow(
            cell.replace(".", ",") if _DECIMAL.fullmatch(cell) else cell for cell in cells
        )
    return out.getvalue()
