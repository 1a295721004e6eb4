"""From bytes to text: which encoding a file can only be in, or that it cannot be told."""

from __future__ import annotations

import codecs
import re
import unicodedata
from typing import Final

from batches.exchange.rules.tables import UnreadableError
from batches.exchange.rules.writing import ENCODINGS

_MARKS: Final[tuple[tuple[bytes, str, str], ...]] = (
    (codecs.BOM_UTF8, "utf-8-sig", "UTF-8"),
    (codecs.BOM_UTF16_LE, "utf-16", "UTF-16"),
    (codecs.BOM_UTF16_BE, "utf-16", "UTF-16"),
)
_UTF32: Final = (codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE)
_SAY: Final = f"Save it as CSV in UTF-8, or say --encoding and one of: {', '.join(ENCODINGS)}."
_WORD: Final = re.compile(r"\w*[^\W\x00-\x7f]\w*|[^\x00-\x7f]")
_SHOWN_LENGTH: Final = 30

# Signs of Windows-1252 that people write. Where another one stands, or one of these in a word, the
# file is in another encoding: the accented letters of older ones are signs in this.
_SIGNS: Final = frozenset(
    "€‚„…‰‹›‘’“”•–—™¡¢£¥§©ª«®°±²³µ·¹º»¼½¾¿×÷\u00a0\u00ad"  # noqa: RUF001 - what it is about
)
_OPENING: Final = frozenset("‚„‹“«¡¿£€")  # noqa: RUF001 - as above
_IN_WORDS: Final = frozenset("’–—·\u00a0\u00ad×")  # noqa: RUF001 - as above


def decoded(data: bytes, said: str) -> tuple[str, str]:
    """The text of a file, and its encoding in words.

    Args:
        data: All of it.
        said: One of `ENCODINGS`, for a file that does not tell by itself; or empty.

    Raises:
        UnreadableError: it is not what is said, or it cannot be told safely what it is.
    """
    if data.startswith(_UTF32):
        raise UnreadableError("It is written in UTF-32. Save it as CSV in UTF-8.")
    text, words = _as_marked(data) or _as_utf8(data) or _otherwise(data, said)
    if "\x00" in text:
        raise UnreadableError(f"It is not a text. {_SAY}")
    if "\ufffd" in text:
        row = text.count("\n", 0, text.index("\ufffd")) + 1
        raise UnreadableError(
            "A letter was lost before it came here (\ufffd). Save the sheet again from where it "
            "still is right.",
            row,
        )
    return text, words


def _as_marked(data: bytes) -> tuple[str, str] | None:
    for mark, codec, words in _MARKS:
        if data.startswith(mark):
            try:
                return data.decode(codec), words
            except UnicodeError as error:
                raise UnreadableError(
                    f"It begins as {words} does, but is not. Save it as CSV in UTF-8."
                ) from error
    return None


def _as_utf8(data: bytes) -> tuple[str, str] | None:
    """What is UTF-8 to its end is nothing else, whatever is said; text has no NUL."""
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        return None
    return None if "\x00" in text else (text, "UTF-8")


def _otherwise(data: bytes, said: str) -> tuple[str, str]:
    if said:
        try:
            return data.decode(ENCODINGS[said]), said.upper()
        except UnicodeError as error:
            raise UnreadableError(f"It is not written in {said}.") from error
    text = _windows_1252(data)
    if text is None:
        raise _untold(data)
    word = max(_WORD.findall(text), key=lambda word: (word.isalnum(), len(word)), default="")
    return text, f"Windows-1252 (“{word[:_SHOWN_LENGTH]}”)"


def _untold(data: bytes) -> UnreadableError:
    """What is said of the first byte that is not UTF-8."""
    try:
        data.decode("utf-8")
    except UnicodeDecodeError as error:
        return UnreadableError(
            f"The byte {data[error.start]:#04x} is not UTF-8, and it cannot be told safely what "
            f"else it is. {_SAY}",
            data.count(b"\n", 0, error.start) + 1,
        )
    return UnreadableError(f"It is not a text. {_SAY}")


def _windows_1252(data: bytes) -> str | None:
    """The text, if it can be meant: some bytes mean nothing in it, some signs nobody writes."""
    try:
        text = data.decode("cp1252")
    except UnicodeDecodeError:
        return None
    for place, sign in enumerate(text):
        if sign.isascii():
            continue
        before, after = text[place - 1 : place], text[place + 1 : place + 2]
        if not (_letter_fits(before, sign) if sign.isalpha() else _sign_fits(before, sign, after)):
            return None
    return text


def _letter_fits(before: str, letter: str) -> bool:
    """No capital follows a small letter: those are small letters of another encoding."""
    return not (unicodedata.category(letter) == "Lu" and before.islower())


def _sign_fits(before: str, sign: str, after: str) -> bool:
    if sign not in _SIGNS or (sign in _OPENING and before.isalpha()):
        return False
    return sign in _IN_WORDS or not (before.isalpha() and after.isalpha())
