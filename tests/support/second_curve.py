"""How well the second reader hears texts by writers that it was not trained on, threshold by threshold."""

import numpy as np
from second_training import GROUPS, PURPOSES, Texts

DANGER_AT = (0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95)
CHAT_AT = (0.4, 0.5, 0.6, 0.7, 0.8, 0.9)
CHAT_BELOW = (0.05, 0.1, 0.15, 0.2, 0.3)
FACT_AT = (0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9)

Point = dict[str, float]


def probabilities(odds: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Of danger, and of each purpose, from calibrated log odds."""
    return 1 / (1 + np.exp(-odds[:, 0])), _shares(odds[:, GROUPS["purpose"]])


def _shares(odds: np.ndarray) -> np.ndarray:
    shares = np.exp(odds - odds.max(axis=1, keepdims=True))
    return np.asarray(shares / shares.sum(axis=1, keepdims=True))


def danger_curve(texts: Texts, odds: np.ndarray) -> list[Point]:
    """A row a threshold, in the fields of DangerPoint."""
    danger, _ = probabilities(odds)
    kinds = {"hard": texts.hard, "plain": ~texts.hard}
    return [
        {"at": at}
        | {f"{name}_recall": _share(danger >= at, kind & texts.danger) for name, kind in kinds.items()}
        | {f"{name}_false": _share(danger >= at, kind & ~texts.danger) for name, kind in kinds.items()}
        for at in DANGER_AT
    ]


def chat_curve(texts: Texts, odds: np.ndarray) -> list[Point]:
    """A row a pair of thresholds, in the fields of ChatPoint."""
    danger, purpose = probabilities(odds)
    chat, is_chat = purpose[:, PURPOSES.index("chat")], texts.purpose == PURPOSES.index("chat")
    other = (texts.purpose >= 0) & ~is_chat & ~texts.danger
    return [
        {"chat": at, "danger_below": below}
        | {
            name: _share((chat >= at) & (danger < below), kind)
            for name, kind in (("dangers", texts.danger), ("chats", is_chat), ("others", other))
        }
        for at in CHAT_AT
        for below in CHAT_BELOW
    ]


def fact_curve(texts: Texts, odds: np.ndarray) -> list[Point]:
    """A row a threshold, in the fields of FactPoint."""
    shares, told = _shares(odds[:, GROUPS["fact"]]), texts.fact >= 0
    best, right = shares.max(axis=1), shares.argmax(axis=1) == texts.fact
    return [
        {"at": at, "heard": _share(best >= at, told), "right": _share(right, told & (best >= at))}
        for at in FACT_AT
    ]


def _share(heard: np.ndarray, of: np.ndarray) -> float:
    return round(float((heard & of).sum() / max(1, of.sum())), 4)
