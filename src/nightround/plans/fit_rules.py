"""Rules of which home fits which animal: floor, substrate, drop, height, finding prey, gaps and climbing.

The rows for light web-builders hold for one build only: light-bodied, fast web-builders that slip on smooth
walls. They are never defaults for heavy ground dwellers, burrowers or unknown groups.
"""

from __future__ import annotations

from nightround.plans.trade_rule import PRACTICE, TradeRule

LIGHT_WEB = "light web-builders that slip on smooth walls, no others"
_HEAVY = "ground dwellers, burrowers, tube and trapdoor builders, heavy bodies, unknown habits or builds"
_NO_FIGURE = "chosen for this program, no source: "

_FLOOR = (
    TradeRule(
        "home_min_spans", "floor of the home in leg spans, both ways, at least", "2", "factor", "B",
        "named experts: 2–3 leg spans both ways; rehouse under 2 is common practice (CP)",
        "every animal but those of the next rows", "2–3 (B)", 0.5, 10,
    ),
    TradeRule(
        "home_web_spans", "the same, in homes smaller than an adult's", "2.5", "factor", "CP",
        "common practice, no source: boxes of 19–20 cm until about 7.5 cm of leg span", LIGHT_WEB, "",
        0.5, 10,
    ),
    TradeRule(
        "home_web_adult_spans", "the same, in an adult's home", "1.1", "factor", "CP",
        "common practice, no source: 10–18 cm of leg span in 20.3 × 25.4 × 38.1 cm", LIGHT_WEB,
        "larger tanks for the largest (CP)", 0.5, 10,
    ),
    TradeRule(
        "home_web_adult_ml", "inner volume from which a home is an adult's", "18900 ml", "volume", "CP",
        "common practice, no source: 8 × 10 × 15 in, 1,200 cubic inches, sold as 5 to 5.5 US gallons",
        LIGHT_WEB, "", 1000, 500000,
    ),
    TradeRule(
        "find_prey_spans", "longest floor in leg spans on which a spiderling finds its prey", "10", "factor",
        "choice", _NO_FIGURE + "nobody gives a number; that a small animal does not find its prey in a large "
        "home is common practice", "spiderlings (sling_below_span_mm) that build no web to hunt in",
        "web-builders find prey anywhere in a large home (CP)", 2, 100, never=True,
    ),
)  # fmt: skip

_DEPTH = (
    TradeRule(
        "depth_ground_spans", "substrate in leg spans, at least", "1", "factor", "CP", PRACTICE,
        "ground dwellers, and where the habit is unknown", "", 0, 5, never=True,
    ),
    TradeRule(
        "depth_ground_mm", "substrate from which no more is asked", "10 cm", "length", "C",
        "keepers' pages: 5–10 cm", "ground dwellers, and where the habit is unknown",
        "5 cm (C); the deeper is the default: it makes the drop lower", 10, 500,
    ),
    TradeRule(
        "depth_burrower_spans", "substrate in leg spans, at least", "2", "factor", "CP", PRACTICE,
        "burrowers", "2–3 (CP)", 0, 6, never=True,
    ),
    TradeRule(
        "depth_burrower_mm", "substrate from which no more is asked", "20 cm", "length", "B",
        "named experts: 15–20 cm", "burrowers", "15 cm (B)", 20, 1000,
    ),
    TradeRule(
        "depth_trapdoor_spans", "substrate in leg spans, at least", "2", "factor", "choice",
        _NO_FIGURE + "as of burrowers", "trapdoor builders", "", 0, 10, never=True,
    ),
    TradeRule(
        "depth_trapdoor_mm", "substrate from which no more is asked", "30 cm", "length", "D",
        "unsigned pages: 15–30 cm", "trapdoor builders", "15 cm (D)", 20, 1000,
    ),
    TradeRule(
        "depth_tube_spans", "substrate in leg spans, at least", "2", "factor", "choice",
        _NO_FIGURE + "as of burrowers", "tube builders", "", 0, 10, never=True,
    ),
    TradeRule(
        "depth_tube_mm", "substrate from which no more is asked", "20 cm", "length", "choice",
        _NO_FIGURE + "as of burrowers", "tube builders", "", 20, 1000,
    ),
    TradeRule(
        "depth_web_spans", "substrate in leg spans, at least", "1", "factor", "choice",
        _NO_FIGURE + "it joins 2.5 cm in the vials of spiderlings to 7.5 cm in boxes (CP)", LIGHT_WEB, "", 0,
        5, never=True,
    ),
    TradeRule(
        "depth_web_mm", "substrate from which no more is asked", "75 mm", "length", "CP",
        "common practice, no source: 7.5–10 cm in the boxes of juveniles, 7.5–12.5 cm sloped for adults",
        LIGHT_WEB, "", 10, 500,
    ),
)  # fmt: skip

_HEIGHT = (
    TradeRule(
        "drop_spans", "height from substrate to lid in leg spans, at most", "1", "factor", "B",
        "named experts: at most one leg span", _HEAVY,
        "1.5 (C); 3–4 (D), dangerous for heavy bodies", 0.3, 5,
    ),
    TradeRule(
        "drop_free_mm", "height from substrate to lid that counts as low for any size", "50 mm", "length",
        "choice", _NO_FIGURE + "it leaves vials and cups for the small; a fall can hurt from any height",
        _HEAVY, "", 0, 500,
    ),
    TradeRule(
        "heavy_bodied", "whether its body is heavy for a fall", "", "yes_no", "MEM",
        "unknown until the keeper says so; else from memory by habit and group: ground dwellers, burrowers, "
        "tube and trapdoor builders and tarantulas are heavy, curtain- and funnel-web-building and wandering "
        "spiders light", "a taxon", "what is not known counts as heavy",
    ),
    TradeRule(
        "height_tree_spans", "height from substrate to lid in leg spans, at least", "2", "factor", "choice",
        _NO_FIGURE + "as much as the floor; taller than wide (B) has no number", "tree dwellers", "", 0, 10,
        never=True,
    ),
    TradeRule(
        "height_web_spans", "height from substrate to lid in leg spans, at least", "0.5", "factor", "choice",
        _NO_FIGURE + "space for a sheet above the ground", "web builders", "", 0, 10, never=True,
    ),
)  # fmt: skip

_GAPS = (
    TradeRule(
        "carapace_width_share", "least width of a carapace as a share of its length", "0.7", "share",
        "choice", "chosen for this program, under the narrowest of six published (0.745 to 0.875, A: "
        "docs/homes.md); holes are kept below the width of the carapace, the rigid part (CP)",
        low=0.3, high=1,
    ),
    TradeRule(
        "carapace_height_share", "least height of a carapace as a share of its length", "0.25", "share",
        "MEM",
        "from memory, the low end; slits are kept below the height of the carapace, the rigid part (CP)",
        low=0.05, high=1,
    ),
    TradeRule(
        "opening_most_mm", "width of a hole that is not to be exceeded", "4 mm", "length", "D",
        "unsigned pages: 4 mm at most for adults, far too wide for spiderlings",
        "every animal; it decides where the size is unknown",
        "tight lids, covered vents, small gaps (A: Scottish Government, no number)", 0.3, 50,
    ),
    TradeRule(
        "mesh_hole_mm", "width of a mesh's holes where nobody noted it", "1.5 mm", "length", "MEM",
        "from memory: fly screen has holes of 1.2–1.5 mm", "every animal", "", 0.1, 20,
    ),
    TradeRule(
        "perforated_hole_mm", "width of a perforated sheet's holes where nobody noted it", "3 mm", "length",
        "MEM", "from memory", low=0.1, high=20,
    ),
    TradeRule(
        "hatchling_ground_mm", "leg span of spiderlings of a batch that nobody measured", "6 mm", "length",
        "B", "named experts: ground dwellers hatch at about 6 mm", "batches of ground dwellers", "", 1, 100,
    ),
    TradeRule(
        "hatchling_tree_mm", "leg span of spiderlings of a batch that nobody measured", "13 mm", "length",
        "B", "named experts: tree dwellers hatch at 13–19 mm", "batches of tree dwellers", "19 mm (B)",
        1, 100,
    ),
    TradeRule(
        "walls_hold_it", "whether clean smooth walls are counted on to keep it from high openings", "no",
        "yes_no", "CP",
        "common practice, no source: many slip on clean plastic and glass, until web or dust gives grip",
        "animals that slip on smooth walls", "tarantulas climb glass, tree dwellers best (A/B)",
    ),
)  # fmt: skip

FIT: tuple[TradeRule, ...] = (*_FLOOR, *_DEPTH, *_HEIGHT, *_GAPS)
"""Every rule of fit, in the order in which the page of rules shows them."""
