"""Signs of a text that cannot be seen and may mislead its reader: controls, changes of direction, halves."""

import unicodedata

_UNSEEN = ("Cc", "Cf", "Cs", "Co", "Zl", "Zp")  # Unicode's general categories


def unseen(sign: str) -> bool:
    """Whether a sign shows nothing of itself. The end of a line does."""
    return sign != "\n" and unicodedata.category(sign) in _UNSEEN


def code(sign: str) -> str:
    """A sign by its number: "U+202E"."""
    return f"U+{ord(sign):04X}"


def plain(text: str) -> str:
    """A text for a terminal: what cannot be seen is shown by its number, so that nothing in it is obeyed."""
    return "".join(f"<{code(sign)}>" if unseen(sign) else sign for sign in text)
