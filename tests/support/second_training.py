"""Training and measuring the second reader from its labelled texts. Needs scikit-learn (extra `train`)."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import get_args

import numpy as np
from scipy.optimize import minimize
from scipy.sparse import csr_matrix
from second_labels import SETTINGS, Labelled, Purpose, stamp
from sklearn.linear_model import LogisticRegression
from sklearn.model_selection import GroupKFold

from bot.reading.second import features
from bot.reading.second.weights import FARTHEST, Column, Weights

FOLDS = 8  # of writers: each is heard by a model that has seen nothing of its own

# How far from the best a fit may stop (greatest slope left). What is shipped stops some thousandth of a step
# of its bytes away, so another machine rounds the same way but for what lies on an edge.
SHIPPED, MEASURED = 1e-8, 1e-6

PURPOSES: tuple[str, ...] = get_args(Purpose)


@dataclass(frozen=True)
class Texts:
    """Labelled texts as arrays; `seen` has a row a text and a column a bucket."""

    seen: csr_matrix
    danger: np.ndarray
    purpose: np.ndarray  # place in PURPOSES, or -1
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
            np.array([each.hard for each in texts]),
            np.array([each.writer for each in texts]),
        )


@dataclass(frozen=True)
class Fit:
    """Weights and biases: danger, then the purposes in their order."""

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
    told = learn & (texts.purpose >= 0)
    rows = 1 + np.unique(texts.purpose[told])
    danger = _logistic(texts, texts.danger, learn, tolerance, near and near.of([0]))
    purpose = _logistic(texts, texts.purpose, told, tolerance, near and near.of(rows))
    weights = np.zeros((1 + len(PURPOSES), features.BUCKETS))
    biases = np.full(1 + len(PURPOSES), -20.0)  # of a purpose that no text of these has
    weights[0], biases[0] = danger.coef_[0], danger.intercept_[0]
    weights[1 + purpose.classes_], biases[1 + purpose.classes_] = purpose.coef_, purpose.intercept_
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
    found = np.zeros((len(texts.writer), 1 + len(PURPOSES)))
    for _, held in GroupKFold(FOLDS).split(texts.seen, groups=texts.writer):
        learn = np.ones(len(found), dtype=bool)
        learn[held] = False
        found[held] = fit(texts, learn, MEASURED, near).odds(texts.seen[held])
    return found


@dataclass(frozen=True)
class Calibration:
    """What makes log odds of unseen texts true: danger x slope + offset; purposes x sharpness."""

    slope: float
    offset: float
    sharpness: float

    def odds(self, raw: np.ndarray) -> np.ndarray:
        factor = np.array([self.slope] + [self.sharpness] * len(PURPOSES))
        return raw * factor + np.array([self.offset] + [0.0] * len(PURPOSES))


def calibrate(texts: Texts, raw: np.ndarray) -> Calibration:
    """The calibration under which the labels of unseen texts are likeliest."""

    def danger_loss(at: np.ndarray) -> float:
        odds = raw[:, 0] * at[0] + at[1]
        return float(np.sum(texts.weight * (np.logaddexp(0, odds) - texts.danger * odds)))

    told = texts.purpose >= 0
    odds, label, weight = raw[told, 1:], texts.purpose[told], texts.weight[told]

    def purpose_loss(at: np.ndarray) -> float:
        scaled = odds * at[0]
        most = scaled.max(axis=1, keepdims=True)
        total = most[:, 0] + np.log(np.exp(scaled - most).sum(axis=1))
        return float(np.sum(weight * (total - scaled[np.arange(len(label)), label])))

    slope, offset = minimize(danger_loss, np.array([1.0, 0.0])).x
    return Calibration(float(slope), float(offset), float(minimize(purpose_loss, np.array([1.0])).x[0]))


def of_all(texts: Texts) -> Fit:
    """The fit of all texts, as it is shipped."""
    return fit(texts, np.ones(len(texts.writer), dtype=bool), SHIPPED)


def train(labels: list[Labelled], found: Fit, calibration: Calibration) -> Weights:
    """The model of all texts, calibrated, its weights rounded to signed bytes column by column."""
    factor = np.array([calibration.slope] + [calibration.sharpness] * len(PURPOSES))
    weights = found.weights * factor[:, None]
    biases = calibration.odds(found.biases)
    scales = np.maximum(np.abs(weights).max(axis=1), 1e-9) / FARTHEST
    body = np.round(weights / scales[:, None]).astype(np.int8).T.tobytes()
    columns = tuple(
        Column(name, round(float(scale), 9), round(float(bias), 6))
        for name, scale, bias in zip(("danger", *PURPOSES), scales, biases, strict=True)
    )
    return Weights(stamp(labels), features.BUCKETS, columns, body)
