"""Where truths stand one beside the other."""

import numpy as np
from numpy.typing import NDArray


def runs(mask: NDArray[np.bool_]) -> NDArray[np.intp]:
    """(K, 2) start and stop of each run of truths in a mask (N,), the stop beyond its last."""
    return np.flatnonzero(np.diff(np.pad(mask.astype(int), 1))).reshape(-1, 2)
