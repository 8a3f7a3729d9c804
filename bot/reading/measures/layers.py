"""The soils that a message names, each with its states: layers of the ground, as told."""

from dataclasses import dataclass, field

from bot.language.lexicon import Language
from bot.reading.text.spans import Span
from knowledge.names import STATES_OF

OTHERS = frozenset(("edge_t", "object", "street"))  # what a state may be said of beside ground
BACKFILL = frozenset(("backfill_t", "backfilled"))


@dataclass(slots=True)
class Layer:
    """One soil as said. `at` is its place in the message, `end` that of the last adjective after it;
    `doubt` where its state was said in two ways."""

    kind: str
    at: int
    states: list[str] = field(default_factory=list)
    doubt: bool = False
    end: int = field(init=False)

    def __post_init__(self) -> None:
        self.end = self.at

    @property
    def state(self) -> str | None:
        """The weakest state said that this kind can have."""
        scale = STATES_OF.get(self.kind, ())
        known = [state for state in self.states if state in scale]
        return min(known, key=scale.index) if known and not self.doubt else None


def holds(piece: Span) -> bool:
    """Whether what a piece names of the ground is said of it, and not of work done."""
    filled = piece.told and not BACKFILL.isdisjoint(piece.tags)  # "backfill done" tells of work, not ground
    return piece.state not in ("denied", "supposed") and not filled


def layers_of(pieces: list[Span], language: Language) -> tuple[list[Layer], list[str], list[tuple[str, str]]]:
    """The soils in the order told, the states that belong to none of them, and local words as taken."""
    taken_as: list[tuple[str, str]] = []
    layers: list[Layer] = []
    pending: list[tuple[int, str]] = []
    loose: list[str] = []
    joined = False
    for at, piece in enumerate(pieces):
        if language.vocabulary.adjectives_follow and layers and _adjective(layers[-1], pieces, at):
            continue
        if not piece.tags:
            joined = False
            continue
        state = piece.tags.state
        kind = _kind(pieces, at) if piece.tags.ground or piece.tags.mixed else None
        if state is not None and kind is None and piece.state not in ("denied", "supposed"):
            if _hedged(pieces, at):
                continue
            pending.append((at, state))
            continue
        if kind is not None:
            piece.used = True
            ahead = _attached(pieces, pending, at, language.small)
            if ahead:
                layers.append(Layer(kind, at, [one for _, one in ahead], _or_between(pieces, ahead)))
                pending = []
            else:
                layers.append(Layer(kind, at))
                if joined and layers[-2:-1] and layers[-2].kind in STATES_OF:
                    layers[-1].states = list(layers[-2].states)  # "dense sand and gravel"
            taken = piece.tags.taken
            if taken is not None and piece.text != taken:
                taken_as.append((piece.raw.lower(), taken))
            joined = False
            continue
        joined = "and" in piece.tags and bool(layers) and at == layers[-1].at + 1
        if pending and layers and at > pending[-1][0] and ("over" in piece.tags and "and" not in piece.tags):
            pending = _settled(layers, pending, pieces, loose, language.small)
    _settled(layers, pending, pieces, loose, language.small)
    return layers, loose, taken_as


def _hedged(pieces: list[Span], at: int) -> bool:
    """ "hardly firm", "softer than firm", "supposed to be stiff", "was firm till it rained"."""
    for step, reach in ((-1, 3), (1, 2)):
        for one in pieces[
            at + step : at + step * (reach + 1) if at + step * (reach + 1) >= 0 else None : step
        ]:
            if one.kind == "mark" or one.tags.ground or one.figure is not None:
                break
            if ("hedge" if step < 0 else "until") in one.tags:
                return True
    return False


def _delivered(pieces: list[Span], at: int) -> bool:
    """Whether what is named is brought, or filled back, and not dug: "bring the hardcore"."""
    here, clause = pieces[at], pieces[at].clause
    near = [one for one in pieces[max(at - 3, 0) : at + 4] if one.clause == clause and one is not here]
    if any("material" in one.tags for one in near):
        return True
    if BACKFILL.isdisjoint(here.tags):
        return False
    before, after = pieces[max(at - 1, 0) : at], pieces[at + 1 : at + 2]
    return here.state in ("planned", "asked", "maybe") or any(
        "doing" in one.tags for one in (*before, *after) if one.clause == clause
    )


def _adjective(layer: Layer, pieces: list[Span], at: int) -> bool:
    """Takes an adjective right after its soil, or joined as a range to one: "firme a dura"."""
    piece, gap = pieces[at], pieces[layer.end + 1 : at]
    if piece.state == "denied":
        return False
    if piece.tags.mixed is not None and piece.tags.ground is None and not gap:
        layer.end = at
        return True
    joined = len(gap) == 1 and ("range" in gap[0].tags or "or" in gap[0].tags or gap[0].text == "-")
    if piece.tags.state is None or (gap and not (joined and layer.states)):
        return False
    layer.states.append(piece.tags.state)  # of two the weaker: "firme blanda"
    layer.doubt = layer.doubt or (joined and "or" in gap[0].tags)
    layer.end = at
    return True


def _kind(pieces: list[Span], at: int) -> str | None:
    """The kind that a piece names, unless it is denied, a name, an adjective of another, or no ground."""
    piece = pieces[at]
    kind = piece.tags.ground
    mixed = None if kind else piece.tags.mixed
    if piece.used or not holds(piece) or _delivered(pieces, at):
        return None  # used: an old trench that stands beside this one
    after = pieces[at + 1 : at + 3]
    if (
        mixed is None
        and "trace" in pieces[at - 1].tags
        and at
        and any(one.tags.ground for one in pieces[:at])
        and not any("over" in one.tags for one in after[:1])
    ):
        return None  # "clay with gravel", but not "clay with gravel underneath"
    if mixed is not None:
        follows = (one for one in pieces[at + 1 : at + 4])
        if any(one.tags.ground for one in follows):
            return None
        return mixed
    for one in pieces[at + 1 : at + 4]:
        if one.kind == "mark":
            break
        if "bedding" in one.tags:
            return None
    if after and "street" in after[0].tags and piece.raw[:1].isupper() and not piece.raw.isupper():
        return None
    return kind


def _attached(
    pieces: list[Span], pending: list[tuple[int, str]], at: int, small: frozenset[str]
) -> list[tuple[int, str]]:
    """The states that stand before a kind and belong to it."""
    group: list[tuple[int, str]] = []
    end = at
    for place, state in reversed(pending):
        gap = pieces[place + 1 : end]
        if len(gap) > 4 or any(_divides(one) for one in gap) or _of_another(gap, small):
            break
        group.append((place, state))
        end = place
    return group[::-1]


def _of_another(gap: list[Span], small: frozenset[str]) -> bool:
    """ "dense traffic, sand": a word that is no ground stands between the state and the comma."""
    marks = [at for at, one in enumerate(gap) if one.kind == "mark"]
    return bool(marks) and any(
        one.kind == "word" and one.text not in small and not (one.tags.state or one.tags.mixed)
        for one in gap[: marks[0]]
    )


def _divides(piece: Span) -> bool:
    if piece.kind == "mark":
        return piece.text in (".", "!", "?", ";", "\n")
    if piece.figure is not None and not piece.used:
        return True
    return bool(piece.tags.ground or piece.tags.label) or "correct" in piece.tags


def _settled(
    layers: list[Layer],
    pending: list[tuple[int, str]],
    pieces: list[Span],
    loose: list[str],
    small: frozenset[str],
) -> list[tuple[int, str]]:
    """States that no kind followed: of the kind just before them ("clay, firm"), or of none."""
    for place, state in pending:
        if _of_other(pieces, place, small):
            continue
        before = [layer for layer in layers if layer.at < place]
        owner = before[-1] if before else None
        gap = pieces[owner.at + 1 : place] if owner else []
        near = (
            owner is not None
            and len(gap) <= 6
            and not any(_divides(one) and one.tags.state is None and one.text != "." for one in gap)
        )
        if owner is not None and near and (not owner.states or owner.states[-1] in [s for _, s in pending]):
            owner.states.append(state)
            fellow = before[-2] if len(before) > 1 and owner.at - before[-2].at == 2 else None
            if fellow is not None and "and" in pieces[owner.at - 1].tags and not fellow.states:
                fellow.states.append(state)  # "sand and gravel, dense"
            owner.doubt = owner.doubt or any("or" in one.tags for one in gap)
        elif owner is not None and any("correct" in one.tags for one in gap) and not other_matter(gap):
            owner.states = [state]  # "firm clay, sorry, soft"
        else:
            loose.append(state)
    return []


def _of_other(pieces: list[Span], place: int, small: frozenset[str]) -> bool:
    """A state that is said of what follows it and is no ground: "soft verge", "loose stones"."""
    if place + 1 >= len(pieces):
        return False
    after = pieces[place + 1]
    unknown = after.kind == "word" and not after.tags and after.text not in small
    return unknown or not OTHERS.isdisjoint(after.tags)


def _or_between(pieces: list[Span], group: list[tuple[int, str]]) -> bool:
    between = pieces[group[0][0] : group[-1][0]]
    return any("or" in one.tags for one in between)


def other_matter(gap: list[Span]) -> bool:
    """Whether figures or labels stand between: then the correction may be of those."""
    return any(one.figure is not None for one in gap)
