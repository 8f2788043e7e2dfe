"""Page furniture: the names of pages and buttons, and what the start of the program prints.

Its sentences are rows of sentences.csv like all others, read once when the program starts: that
something failed must be said even where no file can be read any more.
"""

from __future__ import annotations

from engine.wording import say

PROGRAM = "Levelgaze"
COMMAND_HELP = "Serve the Levelgaze pages on this computer only (127.0.0.1)."
PORT_HELP = "port to serve on, 1024 to 65535; a busy one gives way to the next free one"
OPEN_HELP = "open the pages in your browser"
HOME_HELP = "serve only the home check, for a wearer at a screen of this computer"
HOME_FILE = "home-file"
HOME_FILE_HELP = f"{HOME_FILE} OUT.html writes the home check as one file for any browser."
HOME_LEAD = say("shell_home_lead")
HOME_SAVE = "Save the home check as a file"
HOME_SHEET = "Get an empty question sheet to print"
HOME_LINK = say("shell_home_link")
STOPPED = "Levelgaze has stopped."
NO_KEY = say("shell_no_key")
NO_BROWSER = say("shell_no_browser")

PAGES = {
    "interview": "Interview",
    "desk": "Desk",
    "order": "Order",
    "collection": "Collection",
    "cases": "Kept cases",
    "home": "Home check",
    "team": "Team",
    "evidence": "Evidence",
}

GRADE_MEANING = {
    "comfortable": "clear, with the head and eyes in an easy range",
    "awkward": "sharp, but only with the chin, eyes or head outside the easy range",
    "blurred": "not sharp, but usable",
    "not served": "unusable in every posture",
}

DRAFT_DELETED = say("shell_deleted")
DRAFT_EXPIRED = say("shell_expired")
BROUGHT_BACK = say("shell_brought_back")
BRING_BACK = "Bring them back"
FORGET_NOW = "Forget them now"
TOO_LATE = say("shell_too_late")
TAKE_BACK = "Take back the last change"
DRAFT_CHANGED = say("shell_changed_elsewhere")
SHOW_THEIRS = "Show the other window's answers"
KEEP_MINE = "Keep the answers shown here"
OPEN_CASES = "Kept cases, and files to open"
DELETE_ANSWERS = "Delete these answers"
DELETE_NOTE = say("shell_delete_note")
FAULT = say("shell_fault")


def serving(*, entry: str) -> str:
    """Return what is printed once, when the server is ready for the browser."""
    return say("shell_serving", entry=entry)


def home_serving(*, address: str) -> str:
    """Return what is printed once the home check alone is served."""
    return say("shell_home_serving", address=address)


def home_file_written(*, path: object, kilobytes: float) -> str:
    """Return what is printed once the home check is written."""
    return say("shell_home_written", path=path, kilobytes=f"{kilobytes:.0f}")


def port_busy(*, wanted: int, taken: int) -> str:
    """Return what is printed where another program holds the wanted port."""
    return say("shell_port_busy", wanted=wanted, taken=taken)


def no_port(*, first: int, tried: int) -> str:
    """Return what is printed where no port is free."""
    return say("shell_no_port", first=first, tried=tried)
