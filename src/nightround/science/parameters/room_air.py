"""What a room is like around a home, where nobody measured it (common practice, no source)."""

from __future__ import annotations

from typing import Final

from nightround.foundation.sources import COMMON_PRACTICE

SOURCE: Final = COMMON_PRACTICE
# Assumed and shown beside every figure: quiet living rooms have draughts of 0.05-0.15 m/s.
DRAUGHT_M_S: Final = 0.1
# Heat reaching a home's outside by radiation and air: 1 / 0.13 m2 K/W in building rules (from memory).
SURFACE_HEAT_W_M2_K: Final = 7.7
# Gap along a lid that lies or snaps on: its width, and how far air travels in it.
LID_GAP_MM: Final = 0.05
LID_OVERLAP_MM: Final = 10.0
# Woven screen as sold for lids: clear width of a mesh, thickness, share of the area that is open.
MESH_APERTURE_MM: Final = 1.2
MESH_THICKNESS_MM: Final = 0.5
MESH_OPEN_FRACTION: Final = 0.5
