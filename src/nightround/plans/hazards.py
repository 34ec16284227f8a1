"""Marks of groups whose bites or hairs need a warning. No mark means unknown, never harmless.

Groups: Isbister 2005 and others (A) for the medically significant ones; Fuchs 2013 and Hauke & Herzig (A) for
cramps; ophthalmologists' case reports (A) for the hairs of American tarantulas. Which genera belong to the
groups is from memory; the keeper's own words for a taxon come first.
"""

from __future__ import annotations

from nightround.record.model import Taxon

_SIGNIFICANT = "Bites can be medically significant: seek medical advice, call the local poison service"
_HAIRS = "Urticating hairs pierce eyes and skin: eye protection; of its bite little is known"
_CRAMPS = "Bites reported with cramps for days: seek medical advice"

_BY_NAME: dict[str, str] = {
    **dict.fromkeys(
        ("atracidae", "atrax", "hadronyche", "illawarra", "missulena", "phoneutria", "latrodectus",
         "loxosceles", "sicariidae", "sicarius", "hexophthalma"),
        _SIGNIFICANT,
    ),
    **dict.fromkeys(
        ("poecilotheriinae", "poecilotheria", "harpactirinae", "pterinochilus", "monocentropus",
         "ceratogyrus", "harpactira", "idiothele", "eucratoscelus", "stromatopelminae", "stromatopelma",
         "heteroscodra"),
        _CRAMPS,
    ),
    **dict.fromkeys(
        ("acanthoscurria", "aphonopelma", "avicularia", "brachypelma", "bumba", "caribena", "chromatopelma",
         "citharacanthus", "crassicrus", "cyriocosmus", "cyrtopholis", "davus", "ephebopus", "euathlus",
         "eupalaestrus", "grammostola", "hapalopus", "homoeomma", "iridopelma", "kochiana", "lasiodora",
         "lasiodorides", "megaphobema", "nhandu", "pamphobeteus", "phormictopus", "phrixotrichus",
         "plesiopelma", "pterinopelma", "sericopelma", "stichoplastoria", "theraphosa", "thrixopelma",
         "tliltocatl", "typhochlaena", "vitalius", "xenesthis", "ybyrapora"),
        _HAIRS,
    ),
}  # fmt: skip


def hazard_of(name: str, taxon: Taxon | None) -> str:
    """Return the warning for a taxon: the keeper's words, else the group's mark, else '' (unknown)."""
    if taxon is not None and taxon.described is not None and taxon.described.hazard:
        return taxon.described.hazard
    names = (name, *(taxon.names if taxon else ()), taxon.group if taxon else "")
    for each in names:
        words = each.lower().split()
        mark = _BY_NAME.get(words[0]) if words else None
        if mark:
            return mark
    return ""
