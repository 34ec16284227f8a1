"""How neighbouring holes shorten each other's end correction (source key FOK1941)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import Grade, Source

SOURCE: Final = Source(
    "FOK1941",
    "Fok V A (1941), function of the attached air of holes in a plate, as a polynomial in hole diameter over"
    " spacing; coefficients seen in texts on perforated panels (volume and pages not seen).",
    Grade.A,
)
# Power of xi -> coefficient.
COEFFICIENTS: Final = {
    0: 1.0, 1: -1.40925, 3: 0.33818, 5: 0.06793, 6: -0.02287, 7: 0.03015,
    8: -0.01641, 9: 0.01729, 10: -0.01248, 11: 0.01205, 12: -0.00985,
}  # fmt: skip
