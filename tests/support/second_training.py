"""Training and measuring the second reader from its labelled texts. Needs scikit-learn (extra `train`)."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import get_args

import numpy as np
from scipy.optimize import minimize
from scipy.sparse import csr_matrix
from second_labels import SETTINGS, Fact, Labelled, Purpose, stamp
from sklearn.linear_model import LogisticRegression
from sklearn.model_selection import GroupKFold

from bot.reading.second import features
from bot.reading.second.weights import FARTHEST, Column, Weights

FOLDS = 8  # of writers: each is heard by a model that has seen nothing of its own

# How far from the best a fit may stop (greatest slope left). What is shipped stops some thousandth of a step
# of its bytes away, so another machine rounds the same way but for what lies on an edge.
SHIPPED, MEASURED = 1e-8, 1e-6

PURPOSES: tuple[str, ...] = get_args(Purpose)
FACTS: tuple[str, ...] = get_args(Fact)
GROUPS = {
    "danger": slice(0, 1),
    "purpose": slice(1, 1 + len(PURPOSES)),
    "fact": slice(1 + len(PURPOSES), None),
}
ALL = 1 + len(PURPOSES) + len(FACTS)


@dataclass(frozen=True)
class Texts:
    """Labelled texts as arrays; `seen` has a row a text and a column a bucket."""

    seen: csr_matrix
    danger: np.ndarray
    purpose: np.ndarray  # place in PURPOSES, or -1
    fact: np.ndarray  # place in FACTS, or -1
    hard: np.ndarray  # see Labelled
    writer: np.ndarray

    @property
    def weight(self) -> np.ndarray:
        return np.where(self.hard, SETTINGS["weight_of_hard"], 1.0)

    @classmethod
    def of(cls, texts: Sequence[Labelled]) -> "Texts":
        """The arrays of a list, in its order."""
        return cls(
            matrix([each.text for each in texts]),
            np.array([each.danger for each in texts]),
            np.array([PURPOSES.index(each.purpose) if each.purpose else -1 for each in texts]),
            np.array([FACTS.index(each.fact) if each.fact else -1 for each in texts]),
            np.array([each.hard for each in texts]),
            np.array([each.writer for each in texts]),
        )


@dataclass(frozen=True)
class Fit:
    """Weights and biases: danger, then the purposes in their order, then the facts."""

    weights: np.ndarray
    biases: np.ndarray

    def odds(self, seen: csr_matrix) -> np.ndarray:
        return np.asarray(seen @ self.weights.T + self.biases)

    def of(self, rows: Sequence[int] | np.ndarray) -> "Fit":
        """Some of its rows, to begin another fit with."""
        return Fit(self.weights[rows].copy(), self.biases[rows].copy())


def matrix(texts: Sequence[str]) -> csr_matrix:
    """How often each bucket comes in each text, by the root of how many features the text has."""
    buckets, counts, ends = [], [], [0]
    for text in texts:
        found = features.buckets(text)
        often = Counter(found)
        buckets += often.keys()
        counts += [each / max(1, len(found)) ** 0.5 for each in often.values()]
        ends.append(len(buckets))
    return csr_matrix((counts, buckets, ends), shape=(len(texts), features.BUCKETS))


def fit(texts: Texts, learn: np.ndarray, tolerance: float, near: Fit | None = None) -> Fit:
    """Learned from the texts that `learn` marks. There is one best fit, wherever it is looked for from: from
    one that is `near` it is found sooner."""
    weights = np.zeros((ALL, features.BUCKETS))
    biases = np.full(ALL, -20.0)  # of a purpose that no text of these has
    danger = _logistic(texts, texts.danger, learn, tolerance, near and near.of([0]))
    weights[0], biases[0] = danger.coef_[0], danger.intercept_[0]
    for label, group in ((texts.purpose, GROUPS["purpose"]), (texts.fact, GROUPS["fact"])):
        told = learn & (label >= 0)
        rows = group.start + np.unique(label[told])
        found = _logistic(texts, label, told, tolerance, near and near.of(rows))
        weights[rows], biases[rows] = found.coef_, found.intercept_
    return Fit(weights, biases)


def _logistic(
    texts: Texts, label: np.ndarray, learn: np.ndarray, tolerance: float, near: Fit | None
) -> LogisticRegression:
    model = LogisticRegression(C=SETTINGS["strength"], solver="newton-cg", tol=tolerance, max_iter=200)
    if near is not None:
        model.set_params(warm_start=True)
        model.coef_, model.intercept_ = near.weights, near.biases
    return model.fit(texts.seen[learn], label[learn], sample_weight=texts.weight[learn])


def unseen(texts: Texts, near: Fit) -> np.ndarray:
    """Log odds of every text from a fit that saw nothing by its writer; `near` is the fit of all."""
    found = np.zeros((len(texts.writer), ALL))
    for _, held in GroupKFold(FOLDS).split(texts.seen, groups=texts.writer):
        learn = np.ones(len(found), dtype=bool)
        learn[held] = False
        found[held] = fit(texts, learn, MEASURED, near).odds(texts.seen[held])
    return found


@dataclass(frozen=True)
class Calibration:
    """What makes log odds of unseen texts true: danger x slope + offset; purposes and facts x sharpness."""

    slope: float
    offset: float
    purpose: float
    fact: float

    @property
    def factor(self) -> np.ndarray:
        return np.array([self.slope] + [self.purpose] * len(PURPOSES) + [self.fact] * len(FACTS))

    def odds(self, raw: np.ndarray) -> np.ndarray:
        return raw * self.factor + np.array([self.offset] + [0.0] * (ALL - 1))


def calibrate(texts: Texts, raw: np.ndarray) -> Calibration:
    """The calibration under which the labels of unseen texts are likeliest."""

    def danger_loss(at: np.ndarray) -> float:
        odds = raw[:, 0] * at[0] + at[1]
        return float(np.sum(texts.weight * (np.logaddexp(0, odds) - texts.danger * odds)))

    def sharpness(label: np.ndarray, odds: np.ndarray) -> float:
        told = label >= 0

        def loss(at: np.ndarray) -> float:
            scaled = odds[told] * at[0]
            most = scaled.max(axis=1, keepdims=True)
            total = most[:, 0] + np.log(np.exp(scaled - most).sum(axis=1))
            return float(np.sum(texts.weight[told] * (total - scaled[np.arange(told.sum()), label[told]])))

        return float(minimize(loss, np.array([1.0])).x[0])

    slope, offset = minimize(danger_loss, np.array([1.0, 0.0])).x
    purpose = sharpness(texts.purpose, raw[:, GROUPS["purpose"]])
    return Calibration(float(slope), float(offset), purpose, sharpness(texts.fact, raw[:, GROUPS["fact"]]))


def of_all(texts: Texts, near: Fit | None = None) -> Fit:
    """The fit of all texts, as it is shipped."""
    return fit(texts, np.ones(len(texts.writer), dtype=bool), SHIPPED, near)


def shipped(weights: Weights) -> Fit:
    """The fit that a file of weights holds, calibrated and rounded as it is there."""
    body = np.frombuffer(weights.body, dtype=np.int8).reshape(weights.buckets, len(weights.columns)).T
    scales = np.array([column.scale for column in weights.columns])
    return Fit(body * scales[:, None], np.array([column.bias for column in weights.columns]))


def calibrated(found: Fit, there: Fit) -> Calibration:
    """The calibration by which a fit became the one that is shipped."""

    def factor(of: slice) -> float:  # of a column the greatest weight alone is not rounded
        greatest = np.abs(there.weights[of]).max(axis=1) / np.abs(found.weights[of]).max(axis=1)
        return float(greatest.mean())

    slope = factor(GROUPS["danger"])
    offset = float(there.biases[0] - slope * found.biases[0])
    return Calibration(slope, offset, factor(GROUPS["purpose"]), factor(GROUPS["fact"]))


def train(labels: list[Labelled], found: Fit, calibration: Calibration) -> Weights:
    """The model of all texts, calibrated, its weights rounded to signed bytes column by column."""
    weights = found.weights * calibration.factor[:, None]
    biases = calibration.odds(found.biases)
    scales = np.maximum(np.abs(weights).max(axis=1), 1e-9) / FARTHEST
    body = np.round(weights / scales[:, None]).astype(np.int8).T.tobytes()
    names = [
        ("danger", "danger"),
        *(("purpose", name) for name in PURPOSES),
        *(("fact", name) for name in FACTS),
    ]
    columns = tuple(
        Column(of, name, round(float(scale), 9), round(float(bias), 6))
        for (of, name), scale, bias in zip(names, scales, biases, strict=True)
    )
    return Weights(stamp(labels), features.BUCKETS, columns, body)
