"""Claims that everybody repeats and nobody can trace: what dated records would decide. Plain data.

Each stands with the source and grade under which notes on the trade name it: A peer-reviewed or official,
B a named expert, C keepers' pages, D unsigned pages. They are claims, not facts of this program; none
is written into a room unless the keeper writes it.
"""

from __future__ import annotations

from typing import Final

from nightround.journal.kinds.knowledge import Claim

_PAGES: Final = "keepers' pages"
_UNSIGNED: Final = "unsigned pages"
TARANTULAS: Final = "tarantulas"
TRAPDOORS: Final = "trapdoor spiders"

DISPUTED: Final[tuple[tuple[str, Claim], ...]] = (
    (TARANTULAS, Claim(
        claim="life_span", text="the oldest reached 28 years", high=28, unit="year", sense="maximum",
        source=_PAGES, grade="C")),
    (TARANTULAS, Claim(
        claim="life_span", text="30 to 40 years", low=30, high=40, unit="year", sense="typical", sex="female",
        source=_UNSIGNED, grade="D")),
    (TARANTULAS, Claim(
        claim="life_span", text="up to 49 years", high=49, unit="year", sense="maximum", source=_UNSIGNED,
        grade="D")),
    (TARANTULAS, Claim(
        claim="years_to_maturity", text="most mature in 2 to 5 years", low=2, high=5, unit="year",
        sense="typical", source=_PAGES, grade="C")),
    (TARANTULAS, Claim(
        claim="venom", text="like a bee sting", source=_PAGES, grade="C")),
    (TARANTULAS, Claim(
        claim="venom", text="12.7 % of 363 published bites came with pronounced muscle cramps", low=12.7,
        unit="percent", source="Hauke & Herzig (as named in the trade notes)", grade="A")),
    (TARANTULAS, Claim(
        claim="other", text="mature males live months; over 8 are possible, 18 are rare",
        source="Pellett 2015 (as named in the trade notes)", grade="A")),
    (TARANTULAS, Claim(
        claim="other", text="rich feeding shortens life: never tried in tarantulas; in Nephila rich rations "
        "raised deaths at the next moult", source="HIGG2001 (as named in the trade notes)", grade="A")),
    (TRAPDOORS, Claim(
        claim="life_span", text="5 to 20 years", low=5, high=20, unit="year", sense="typical", sex="female",
        source=_PAGES, grade="C")),
    (TRAPDOORS, Claim(
        claim="other", text="one female was followed in the wild for 43 years", source="Mason et al. 2018",
        grade="A")),
)  # fmt: skip
