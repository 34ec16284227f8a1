"""Maturity of every animal of a room, by sex, in the shape that `forecast --json` prints."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nightround.science.size.fit import SizeFit
from nightround.science.size.forecast import NextMoultMatures, next_moult_matures
from nightround.science.size.maturity import Maturity

LEVELS = (0.1, 0.5, 0.9)


@dataclass(frozen=True)
class MaturityRoom:
    """Chances of every animal and each taxon's sizes of maturity (J, 3) [mm] of females and males."""

    fit: SizeFit
    matures: NextMoultMatures
    half_mm: tuple[NDArray[np.float64], NDArray[np.float64]]

    def of(self, row: int) -> dict[str, Any]:
        """Maturity of one animal: chances now and at the next moult, in all and for each sex it may be of."""
        fit, matures = self.fit, self.matures
        female = float(matures.is_female[row])
        now = float(fit.mature_now[row])
        noted = int(fit.data.mature_instar[row]) >= 0
        # A male shows his maturity: unless noted, all of the chance to be mature now is a female's.
        females_now = 1.0 if noted else now / female if female > 0.0 else 0.0
        by_sex: dict[str, Any] = {}
        rows = (
            ("female", female, females_now, matures.female),
            ("male", 1.0 - female, float(noted), matures.male),
        )
        for at, (sex, chance, mature, at_next) in enumerate(rows):
            if chance > 1e-9:
                low, middle, high = self.half_mm[at][fit.data.taxon_of_animal[row]].tolist()
                by_sex[sex] = {
                    "chance": chance,
                    "mature_now": min(mature, 1.0),
                    "chance_next_moult": float(at_next[row]),
                    "matures_at_carapace_mm": {"0.10": low, "0.50": middle, "0.90": high},
                }
        return {"mature_now": now, "chance_next_moult": float(matures.chance[row]), "by_sex": by_sex}


def maturity_room(fit: SizeFit) -> MaturityRoom:
    """Work out the maturity of all animals at once."""
    maturity = fit.inside.judged.maturity
    return MaturityRoom(fit, next_moult_matures(fit), (_half_mm(maturity, False), _half_mm(maturity, True)))


def _half_mm(maturity: Maturity, male: bool) -> NDArray[np.float64]:
    """10, 50 and 90 % of the carapace length at which half of the moults are the maturing one (J, 3)."""
    grid, weights = maturity.sizes(male)
    step = float(grid[1] - grid[0])
    edges = np.concatenate([grid - step / 2.0, grid[-1:] + step / 2.0])
    found = np.empty((len(weights), len(LEVELS)))
    for taxon, row in enumerate(weights):
        rising = np.concatenate([[0.0], np.cumsum(row)]) + 1e-12 * np.arange(len(edges))
        found[taxon] = np.exp(np.interp(LEVELS, rising, edges))
    return found
