"""True sizes, known with doubt, against a claimed size.

    P(some animal's true size exceeds c) = 1 - integral phi(z) prod_i Phi((log c - m_i - s_i z) / o_i) dz

m_i and the whole sd t_i are the size staircase's for animal i; s_i is the doubt it shares with the others
of its kind (how legs go with the carapace, a bias of the ruler) and o_i its own, t_i^2 = s_i^2 + o_i^2.
Where the share is not known it is taken too large rather than too small: more shared doubt can only lower
the chance (Slepian 1962, Bell Syst. Tech. J. 41:463-501, from memory)."""

from __future__ import annotations

from typing import Final

import numpy as np

from nightround.science.claims.bets import Floats

_LEAST_OWN: Final = 1e-4
_NODES: Final = 200


def chance_beyond(mean: Floats, sd: Floats, limit: float, *, below: bool = False) -> Floats:
    """Chance (n,) of each true size to exceed a limit (`below`: to fall short of it); all in log mm."""
    from scipy.special import ndtr

    sign = -1.0 if below else 1.0
    return np.asarray(ndtr(sign * (mean - limit) / np.maximum(sd, _LEAST_OWN)), dtype=np.float64)


def chance_any_beyond(
    mean: Floats, sd: Floats, shared: Floats, limit: float, *, below: bool = False
) -> float:
    """Chance that some true size exceeds a limit (`below`: falls short); arrays (n,) in log mm; 0 of none."""
    from scipy.special import log_ndtr, ndtri

    if not len(mean):
        return 0.0
    sign = -1.0 if below else 1.0
    common = np.minimum(shared, sd)
    own = np.maximum(np.sqrt(np.maximum(sd**2 - common**2, 0.0)), _LEAST_OWN)
    # A sum over even steps of probability: own doubt may be nil, and a polynomial rule would miss the edge.
    z = ndtri((np.arange(_NODES) + 0.5) / _NODES)
    room = sign * (limit - mean)[:, None] - common[:, None] * z
    stays = np.exp(log_ndtr(room / own[:, None]).sum(axis=0))
    return float(1.0 - stays.mean())


def reading_that_settles(limit_mm: float, error_log_sd: float, sure_z: float = 2.33) -> float:
    """Size in mm that one reading with this error must show to exceed a limit with 99 %, all else unknown."""
    return float(limit_mm * np.exp(sure_z * error_log_sd))
