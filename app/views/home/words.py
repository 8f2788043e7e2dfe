"""Page furniture of the home check, in the wearer's words.

The sentences of the result come from the tables of the engine; these do not. The reading test
reads these too.
"""

from __future__ import annotations

TITLE = "Home check"
LEAD = (
    "Find out what your desk asks of your eyes and head. You need a tape, a book and about ten "
    "minutes. Your answers stay on this computer."
)
NEXT = "Next"
BACK = "Back"
SKIP = "I cannot tell. Go on"
NONE_OF_THESE = "None of these is true"
STOP_TITLE = "Please stop here"
STOP_MISTAKE = "I ticked that by mistake"
TICK_ONE = "Tick what fits, or the last box."
CHOOSE_ONE = "Choose one. If you do not know, choose the last one."
CHOOSE_AGE = "Choose your age."
SIZE_NEEDED = "Write the size of each screen."
NUMBER_NEEDED = f"Fill in each number. If you cannot, press “{SKIP}”."
REFUSED = "{value} does not work here. Please write: {allowed}."
TO_MEND = "One number needs another look. See the note under it. Change the number or take it out."
LENS_PART = "Through which part of the lens do you see the screen best?"
HOW_MANY = "How many screens?"
FORM = "What is your {screen}?"
SIZE = "Size of your {screen}, in inches"
SHAPE = "Shape of your {screen}"
SIDE = "Where is your {screen}, seen from the main one?"
FIXED = "My {screen} cannot be moved"
DISTANCE = "From your nose to the middle of your {screen}"
REACH = "Can you touch your {screen} with your fingers, sitting as usual?"
RULER = "What do you measure with?"
CARD = "A bank card on the paper ruler: how long is it?"
EYES = "From the desk up to your eyes"
TOP = "From the desk up to the top edge of your {screen}"
READ_AT = "From your nose to your {thing}"
HOURS = "Hours a day at {thing}"
UNITS = "Write centimetres. If you measured in inches, put “in” after the number: 26 in."
PROGRESS = "Question {number} of {count}"
BEFORE = "Before the questions"
RESULT_TITLE = "What we found out"
CHANGE = "Change an answer"
NO_TAPE = "No tape at hand? Print one, or match a ruler on this screen"
PAPER_TAPE = "Get the paper tape"
MATCH = "Make the bar below as wide as the short side of a bank card. Hold the card on the screen."
MATCH_LABEL = "Width of the bar"
MATCHED = "If the bar fits the card, this ruler is true. Hold your tape on it to check your tape."
SHEET = "Get the sheet to bring along"
FILE = "Get the file for your optician"
SHEET_NOTE = "The sheet is one page to print or show. The file holds the same numbers."
HEADINGS = {
    "first": "Tell your optician first",
    "doubts": "Measure this again",
    "postures": "What your desk asks of your head now",
    "move": "What moving the screen would do",
    "kinds": "Kinds of lens worth asking about",
    "ask": "What to ask",
    "unseen": "What this check cannot see",
    "facts": "Your numbers",
}
STEP_NAMES = {
    "flags": "Warning signs",
    "age": "Age",
    "glasses": "Glasses",
    "coping": "What you do",
    "screens": "Screens",
    "distances": "How far",
    "heights": "How high",
    "reading": "Reading",
    "others": "Other things",
    "hours": "Hours",
    "needs": "Driving and stairs",
    "bothers": "What bothers you",
    "tell": "For your optician",
}
