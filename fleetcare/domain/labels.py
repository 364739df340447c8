"""The shape of a code on a label or badge, and its check character.

A code starts with a letter and has a digit: by that shape a scan is told from typed numbers,
never by timing.  The check character is the hybrid system of ISO 7064 MOD 37,36 over the letters
and digits of the code; hyphens are left out.  On a label it follows the code after an asterisk.
From its second issue on a label also carries the issue after a stroke: "P-1011/2*1".
"""

from __future__ import annotations

import re

_SHAPE = re.compile(r"(?=[A-Z0-9-]*\d)[A-Z][A-Z0-9]*(?:-[A-Z0-9]+)*(?:/[1-9][0-9]?)?(?:\*[A-Z0-9])?")
_ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def normalise(text: str) -> str:
    """The code in `text` in capitals, without a verified check character or outer spaces."""
    code = text.strip().upper()
    if len(code) > 2 and code[-2] == "*" and verify_check(code):
        return code[:-2]
    return code


def label_text(code: str, issue: int = 1) -> str:
    """The text of label number `issue` of a code: "P-1011*V", "P-1011/2*…" from the second issue on."""
    return with_check(code if issue == 1 else f"{code}/{issue}")


def issue_of(text: str) -> int | None:
    """The issue that a scanned label carries: 1 for a label with a check character and no stroke.

    None where the text is a code typed by hand, which says nothing about the label.
    """
    code, star, _ = text.strip().upper().partition("*")
    _, stroke, issue = code.partition("/")
    if stroke:
        return int(issue)
    return 1 if star else None


def without_issue(code: str) -> str:
    """The code without the issue of its label."""
    return code.partition("/")[0]


def check_fails(text: str) -> bool:
    """True when `text` carries a check character that is not the right one: a damaged or forged label."""
    return "*" in text and is_code(text) and not verify_check(text)


def is_code(text: str) -> bool:
    """True when `text` has the shape of a code: "EB-12", "P-1002", "C-36-2", "P-1002*K"."""
    return text.isascii() and _SHAPE.fullmatch(text.strip().upper()) is not None


def check_character(code: str) -> str:
    """The ISO 7064 MOD 37,36 check character of `code` (letters and digits; hyphens left out)."""
    product = 36
    for character in code.upper():
        if character in "-/":
            continue
        product = (product + _ALPHABET.index(character)) % 36 or 36
        product = product * 2 % 37
    return _ALPHABET[(37 - product) % 36]


def with_check(code: str) -> str:
    """The text of a label: the code, an asterisk, its check character."""
    return f"{code.upper()}*{check_character(code)}"


def verify_check(text: str) -> bool:
    """True when `text` ends in an asterisk and the right check character; False for what is no code at all."""
    code, star, character = text.strip().upper().partition("*")
    if any(one not in _ALPHABET and one not in "-/" for one in code):
        return False
    return bool(star) and bool(code) and character == check_character(code)
