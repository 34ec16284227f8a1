"""A substrate as keepers write it, 'coir 70, sand 30', as shares of the substrates whose water is known."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from nightround.foundation.wording import joined
from nightround.science.water.substrate import Parts

# Words for the substrates of `science.water.substrate`.
_KNOWN: Final = {
    "peat": ("peat", "peat moss", "sphagnum peat", "sphagnum", "sphagnum moss"),
    "coir": ("coir", "coco", "cocopeat", "coco peat", "coconut", "coco fibre", "coco fiber", "coconut fibre",
             "coconut fiber", "coconut coir"),
    "vermiculite": ("vermiculite",),
    "topsoil": ("topsoil", "top soil", "soil", "earth", "garden soil"),
    "loam": ("loam",),
    "sandy loam": ("sandy loam",),
    "loamy sand": ("loamy sand",),
    "sand": ("sand", "play sand", "playsand", "river sand"),
}  # fmt: skip
# What nobody's curves are here for: counted as the nearest that is (common practice, no source), and said so.
_NEAREST: Final = {
    "clay": "loam", "potting soil": "peat", "compost": "peat", "moss": "peat", "leaf litter": "coir",
    "leaves": "coir", "bark": "coir", "wood": "coir", "cork": "coir", "perlite": "sand", "gravel": "sand",
    "charcoal": "sand", "lava": "sand",
}  # fmt: skip
_NAMES: Final = {word: name for name, words in _KNOWN.items() for word in words}
# More than this share of unknown parts and nothing is said of the mix.
MOST_UNKNOWN: Final = 0.3
_AMOUNT: Final = re.compile(r"(\d+(?:[.]\d+)?)\s*(%|parts?\b|l\b|litres?\b|liters?\b|cups?\b|vol\b)?")
_RATIO: Final = re.compile(r"^(.*?)\s+(\d+(?:[.]\d+)?(?:\s*:\s*\d+(?:[.]\d+)?)+)\s*$")


@dataclass(frozen=True)
class Mix:
    """Shares of known substrates, or None with the reason in `missing`; `assumed` is said beside figures."""

    parts: Parts | None
    assumed: tuple[str, ...] = ()
    missing: str = ""


def read_mix(words: str) -> Mix:
    """Read a recipe: names with percents, parts or litres before or after them, or a ratio such as 2:1."""
    text = " ".join(words.lower().split())
    if not text:
        return Mix(None, missing="what the substrate is made of")
    ratio = _RATIO.match(text)
    if ratio:
        names = [name.strip() for name in re.split(r"[/:,+&]| and ", ratio[1]) if name.strip()]
        shares = [float(share) for share in ratio[2].split(":")]
        if len(names) == len(shares):
            return _mix(list(zip(names, shares, strict=True)), words)
    pieces = [piece.strip() for piece in re.split(r"[,;+&/]| and | with ", text) if piece.strip()]
    read = [_piece(piece) for piece in pieces]
    given = [amount for _, amount in read if amount is not None]
    equal = not given
    if given and len(given) < len(read):
        return Mix(None, missing=f"how much of each part the substrate '{words}' has")
    found = _mix([(name, 1.0 if amount is None else amount) for name, amount in read], words)
    if equal and len(read) > 1 and found.parts:
        return Mix(found.parts, (*found.assumed, "equal shares of the substrate's parts"))
    return found


def _piece(piece: str) -> tuple[str, float | None]:
    amount = _AMOUNT.search(piece)
    name = _AMOUNT.sub(" ", piece)
    name = re.sub(r"\b(of|x)\b|[()*]", " ", name)
    return " ".join(name.split()), float(amount[1]) if amount else None


def _mix(pieces: list[tuple[str, float]], words: str) -> Mix:
    total = sum(share for _, share in pieces)
    if not total > 0.0:
        return Mix(None, missing=f"how much of each part the substrate '{words}' has")
    shares: dict[str, float] = {}
    assumed, unknown = [], []
    for name, share in pieces:
        known = _NAMES.get(name) or _NAMES.get(name.rstrip("s"))
        if known is None:
            known = _NEAREST.get(name) or _NEAREST.get(name.rstrip("s"))
            if known is None:
                unknown.append((name or "a part without a name", share))
                continue
            assumed.append(f"{name} counted as {known}")
        shares[known] = shares.get(known, 0.0) + share
    lost = sum(share for _, share in unknown) / total
    if not shares or lost > MOST_UNKNOWN:
        names = joined([name for name, _ in unknown])
        return Mix(None, missing=f"a substrate whose water is known: nothing is known here of {names}")
    assumed += [f"{name} left out: nothing is known of its water" for name, _ in unknown]
    kept = sum(shares.values())
    return Mix(tuple((name, share / kept) for name, share in shares.items()), tuple(assumed))
