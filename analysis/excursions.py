"""Stretches of samples on one side of a level: where each begins, ends and is deepest."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.calibration import Samples

Indices = npt.NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Runs:
    """Stretches from sample ``first`` up to but not including ``end``, in order; both of shape (k,)."""

    first: Indices
    end: Indices

    @property
    def count(self) -> int:
        """Count the stretches."""
        return int(self.first.size)

    def pairs(self) -> list[tuple[int, int]]:
        """List the stretches as (first, end)."""
        return list(zip(self.first.tolist(), self.end.tolist(), strict=True))

    def merged(self, closer_than: float) -> Runs:
        """Join stretches with fewer samples between them than `closer_than`."""
        apart = self.first[1:] - self.end[:-1] >= closer_than
        return Runs(
            first=self.first[np.concatenate([[True], apart])] if self.count else self.first,
            end=self.end[np.concatenate([apart, [True]])] if self.count else self.end,
        )

    def deepest(self, values: Samples) -> Indices:
        """Give the sample of the highest value in each stretch; masked samples do not count."""
        return np.asarray(
            [a + np.nanargmax(values[a:b]) for a, b in zip(self.first, self.end, strict=True)], dtype=np.intp
        )


def runs(true: npt.NDArray[np.bool_]) -> Runs:
    """Find the stretches of true samples, shape (n,).

    >>> found = runs(np.array([False, True, True, False, True]))
    >>> found.first.tolist(), found.end.tolist()
    ([1, 4], [3, 5])
    """
    changes = np.flatnonzero(true[1:] != true[:-1]) + 1
    borders = np.concatenate([[0], changes, [true.size]]) if true.size else np.zeros(1, dtype=np.intp)
    starts_true = int(not true[0]) if true.size else 0
    first = borders[:-1][starts_true::2]
    return Runs(first=first.astype(np.intp), end=borders[1:][starts_true::2].astype(np.intp))
