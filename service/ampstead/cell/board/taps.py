"""What flows through the wires of balance plugs that are joined while the packs hang on one board.

Between cells k and k + 1 every pack has a tap, at the voltage x_p,k above the common minus; one wire leads from it to
the common tap v_k. The main leads are joined, so that all packs share the minus and, behind their leads, the plus T:

    (x_k − x_k−1 − E_k)/R_k + (x_k − x_k+1 + E_k+1)/R_k+1 + (x_k − v_k)/w = 0        (1)
    Σ_p (v_k − x_p,k)/w = 0,   Σ_p (T − x_p,n−1 − E_p,n)/R_p,n = 0                   (2)

with x_0 = 0, and the lead counted to the last cell. Eq. (1) gives each pack's taps as a linear function of the common
ones, Eq. (2) those. Volts, ohm, ampere; the first instant, cells at rest.
"""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def tap_currents(cells: Floats, ohmic: Floats, leads: Floats, wire: float) -> Floats:
    """Current from each pack's inner taps into the common ones, shape (packs, cells − 1).

    ``cells`` and ``ohmic``: open-circuit voltage and resistance of every cell, (packs, cells); ``wire``: resistance of
    the two wires of a tap between two packs, half of which stands at each.
    """
    P, n = cells.shape
    if n < 2:
        return np.zeros((P, 0))
    w = wire / 2
    R = ohmic.copy()
    R[:, -1] += leads
    g = 1.0 / R
    inner = np.arange(n - 1)
    A = np.zeros((P, n - 1, n - 1))
    A[:, inner, inner] = g[:, :-1] + g[:, 1:] + 1.0 / w
    A[:, inner[1:], inner[:-1]] = A[:, inner[:-1], inner[1:]] = -g[:, 1:-1]
    # Right side of Eq. (1): constant in the last column, then the part of each common node.
    b = np.zeros((P, n - 1, n + 1))
    b[:, inner, inner] = 1.0 / w
    b[:, -1, n - 1] = g[:, -1]
    b[:, :, n] = cells[:, :-1] * g[:, :-1] - cells[:, 1:] * g[:, 1:]
    x = np.linalg.solve(A, b)
    # Eq. (2), unknown v_1 … v_n−1 and T.
    K = np.zeros((n, n))
    K[:-1] = -np.sum(x[:, :, :n], axis=0) / w
    K[inner, inner] += P / w
    K[-1] = -np.sum(x[:, -1, :n] * g[:, -1:], axis=0)
    K[-1, -1] += np.sum(g[:, -1])
    right = np.empty(n)
    right[:-1] = np.sum(x[:, :, n], axis=0) / w
    right[-1] = np.sum((x[:, -1, n] + cells[:, -1]) * g[:, -1])
    common = np.linalg.solve(K, right)
    taps: Floats = x[:, :, :n] @ common + x[:, :, n]
    return (taps - common[:-1]) / w
