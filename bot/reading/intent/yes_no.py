"""YES, NO, IGNORE, SEEN, ALL SAFE: a text that is nothing but an answer to what the service asked."""

from bot.reading.text.prepare import PreparedText
from knowledge.reading import AnswerWord

WORDS: dict[str, AnswerWord] = {
    "answer_yes": "yes",
    "answer_no": "no",
    "answer_ignore": "ignore",
    "answer_seen": "seen",
    "answer_all_safe": "all safe",
}


def answer_word(text: PreparedText) -> AnswerWord | None:
    """The one answer that a text consists of, beside the trench it names; None where it says more."""
    content = [piece for piece in text.pieces if piece.kind not in ("mark", "ref")]
    if not content or any(piece.text == "?" for piece in text.pieces) or text.clauses[-1].question:
        return None
    said = {WORDS[tag] for piece in content for tag in piece.tags if tag in WORDS}
    every = all(not WORDS.keys().isdisjoint(piece.tags) for piece in content)
    return said.pop() if every and len(said) == 1 else None
