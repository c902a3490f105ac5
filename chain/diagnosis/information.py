"""How many bits a measurement is expected to give about which of several explanations holds."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chain.diagnosis.evidence import log_sum

if TYPE_CHECKING:
    from components.arrays import FloatArray


def expected_bits(
    predictions: FloatArray, probabilities: FloatArray, covariance: FloatArray, *,
    draws: int = 4, seed: int = 0,
) -> float:
    """Return the information that a measurement is expected to give, bits.

    `predictions` (explanations, sizes drawn, values) are what each explanation predicts at sizes
    that are as likely as each other, `covariance` that of the errors, `probabilities` those of the
    explanations now.  The mutual information between explanation and outcome, H(E) less the mean of
    H(E | outcome), the mean over `draws` outcomes of every prediction (fixed by `seed`).
    """
    p = np.asarray(probabilities, float)
    p = p / p.sum()
    explanations, sizes, values = predictions.shape
    factor = np.linalg.cholesky(covariance)
    white = np.linalg.solve(factor, predictions.reshape(-1, values).T).T
    rng = np.random.default_rng(seed)
    with np.errstate(divide="ignore"):
        log_p = np.log(p)
    total, square = 0.0, (white**2).sum(axis=1)
    weight = np.repeat(p / sizes, sizes)
    for _ in range(draws):
        outcome = white + rng.normal(size=white.shape)
        far = (outcome**2).sum(axis=1)[:, None] + square - 2.0 * outcome @ white.T
        log_of_each = log_sum(-far.reshape(-1, explanations, sizes) / 2.0, axis=2)
        log_joint = log_p + log_of_each
        log_after = log_joint - log_sum(log_joint, axis=1)[:, None]
        after = np.exp(log_after)
        entropy = -(after * np.where(after > 0, log_after, 0.0)).sum(axis=1)
        total += float(weight @ entropy)
    before = -float((p * np.where(p > 0, log_p, 0.0)).sum())
    return float(max(before - total / draws, 0.0) / np.log(2.0))
