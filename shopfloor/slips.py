"""What the framework says of a slip, in the house's words: what is wrong and what to do."""

from __future__ import annotations

import re
from typing import Final

_WORDS: Final = [
    (re.compile(pattern), words)
    for pattern, words in (
        (r"This field is required\.", "This is missing. Fill it in."),
        (r"This field may not be (?:null|blank)\.", "This may not be empty. Fill it in."),
        (r"A valid (?:big)?integer is required\.", "Write a whole number, like 12."),
        (r"A valid number is required\.", "Write a number, like 2.5."),
        (r"Must be a valid boolean\.", "Say yes or no: true or false."),
        (r"Not a valid string\.", "Write it as text."),
        (
            r"Ensure this field has no more than (\d+) characters\.",
            r"This is too long. Use at most \1 characters.",
        ),
        (
            r"Ensure this field has at least (\d+) characters?\.",
            r"This is too short. Use at least \1 characters.",
        ),
        (
            r"Ensure this value is less than or equal to (\S+)\.",
            r"This is too much. Write \1 or less.",
        ),
        (
            r"Ensure this value is greater than or equal to (\S+)\.",
            r"This is too little. Write \1 or more.",
        ),
        (r"Ensure this field has at least (\d+) elements?\.", r"Give at least \1 of these."),
        (r"Ensure this field has no more than (\d+) elements?\.", r"Give at most \1 of these."),
        (r"This (?:list|selection) may not be empty\.", "Give at least one of these."),
        (r'Expected a list of items but got type "(\w+)"\.', r"Send a list here, not \1."),
        (r'Expected a dictionary of items but got type "(\w+)"\.', r"Send an object here, not \1."),
        (r"Null characters are not allowed\.", "Take the NUL character out."),
        (r"No file was submitted\.", "The file is missing. Choose one."),
        (r"The submitted file is empty\.", "The file is empty. Choose another."),
    )
]


def in_house_words(text: str) -> str:
    """The message as we say it; one of our own as it stands."""
    for pattern, words in _WORDS:
        if found := pattern.fullmatch(text):
            return found.expand(words)
    return text
