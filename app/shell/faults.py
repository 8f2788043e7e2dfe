"""What is written when the program fails: where, never what was typed."""

from __future__ import annotations

import logging
import sys
import threading
import traceback
from pathlib import Path
from typing import Any

from app.shell import words


def log(fault: BaseException) -> None:
    """Print the kind of fault and the places it passed through.

    The message and the values are left out: they may hold what a wearer told.
    """
    print(_said(fault), file=sys.stderr)


def shown(_fault: Exception) -> bool:
    """Say on the page that something failed, in place of the page library's own words."""
    import streamlit as st

    st.error(words.FAULT)
    return True


def keep_values_out_of_logs() -> None:
    """Keep a fault's own words out of all that this process logs from here on, of any library."""
    plain = logging.getLogRecordFactory()

    def bare(*args: Any, **more: Any) -> logging.LogRecord:
        record = plain(*args, **more)
        fault = record.exc_info[1] if record.exc_info else None
        if fault is not None:
            record.msg, record.args = _said(fault), ()
        elif isinstance(record.args, tuple):
            record.args = tuple(map(_kind, record.args))
        record.exc_info = record.exc_text = None
        return record

    logging.setLogRecordFactory(bare)
    threading.excepthook = _from_hook
    sys.unraisablehook = _from_hook


def _from_hook(told: Any) -> None:
    if told.exc_value is not None and not isinstance(told.exc_value, SystemExit):
        log(told.exc_value)


def _kind(value: object) -> object:
    return type(value).__name__ if isinstance(value, BaseException) else value


def _said(fault: BaseException) -> str:
    places = [
        f"{Path(frame.filename).name}:{frame.lineno}"
        for frame in traceback.extract_tb(fault.__traceback__)
    ]
    return f"fault {type(fault).__name__} at {' < '.join(reversed(places))}"
