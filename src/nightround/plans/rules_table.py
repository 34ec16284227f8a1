"""The rules of the trade that plans rest on: each with its figure, its source, its grade and what it is for.

Grades: A peer-reviewed, official or veterinary; B named expert, society or zoo; C keepers' pages and vendors;
D unsigned pages; CP common practice, no source; MEM from memory; choice: chosen for this program, no source.
Where figures disagree the default is the one that harms least, and `disputed` names the others.
"""

from __future__ import annotations

from nightround.plans.fit_rules import FIT, LIGHT_WEB
from nightround.plans.trade_rule import CHOICE, PRACTICE, TradeRule

__all__ = ["CHOICE", "PRACTICE", "RULES", "SECTIONS", "TradeRule"]

_FEEDING = (
    TradeRule(
        "feed_sling_days", "days between offers to a spiderling", "7", "days", "CP",
        "common practice; keepers' pages: weekly", "spiderlings",
        "weekly (C) to every 1–3 days (D); the later offer is the default", 1, 60, never=True,
    ),
    TradeRule(
        "feed_juvenile_days", "days between offers to a juvenile", "7", "days", "C",
        "keepers' pages: weekly", "juveniles",
        "2–3 a week (D) to weekly (C); the later offer is the default", 1, 120, never=True,
    ),
    TradeRule(
        "feed_adult_days", "days between offers to an adult", "14", "days", "D",
        "unsigned pages: every 7–14 days", "adults", "7 or 14 days (D); the later offer is the default",
        1, 365, never=True,
    ),
    TradeRule(
        "feed_web_days", "days between offers to an adult", "7", "days", "CP",
        "common practice, no source: fed about weekly", LIGHT_WEB, "7–14 (D) for adults",
        1, 365, never=True,
    ),
    TradeRule(
        "feed_unknown_days", "days between offers when the stage is unknown", "14", "days", "D",
        "the longest of the figures for any stage", "animals of unknown size", "", 1, 365, never=True,
    ),
    TradeRule(
        "settle_feed_days", "days after arrival before the first offer", "3", "days", "CP", PRACTICE,
        "new arrivals", "", 0, 60,
    ),
    TradeRule(
        "sling_below_span_mm", "leg span under which it counts as a spiderling", "25 mm", "length",
        "CP", PRACTICE, low=1, high=200,
    ),
    TradeRule(
        "small_below_span_mm", "leg span under which it counts as small", "50 mm", "length", "CP",
        PRACTICE, low=1, high=300,
    ),
    TradeRule(
        "medium_below_span_mm", "leg span under which it counts as medium", "100 mm", "length", "CP",
        PRACTICE, low=1, high=400,
    ),
    TradeRule(
        "adult_from_span_mm", "leg span from which it is fed as an adult, seen mature or not", "100 mm",
        "length", "CP", PRACTICE, "set it per taxon: dwarfs are adult far below", low=1, high=400,
    ),
    TradeRule(
        "prey_of_body", "prey length, as a share of body length, at most", "0.5", "share", "D",
        "unsigned pages: at most half the body", "animals of known body length",
        "about the abdomen's length (B), not over the body (C), half the body (D)", 0.05, 1,
    ),
    TradeRule(
        "prey_of_abdomen", "prey length, as a share of abdomen length, at most", "1", "share", "B",
        "named experts: about the abdomen's length, shorter than the body",
        "animals of known body and carapace length", "", 0.1, 1.5,
    ),
    TradeRule(
        "prey_of_carapace", "prey length, as a share of carapace length, at most", "1", "share", "CP",
        "common practice: the abdomen is about as long as the carapace or longer",
        "animals of known carapace length only", "", 0.1, 2,
    ),
    TradeRule(
        "prey_of_span", "prey length, as a share of leg span, at most", "0.15", "share", "MEM",
        "from memory: the body is two fifths of the span or less", "animals of known leg span only", "",
        0.02, 0.5,
    ),
    TradeRule(
        "live_prey_from_body_mm", "body length from which prey is offered alive", "4 mm", "length",
        "CP", "common practice: pre-killed pieces for smaller spiderlings, they scavenge", low=0,
        high=50,
    ),
    TradeRule(
        "web_fly_below_span_mm", "leg span under which flightless fruit flies or scavenged legs are usual",
        "8.5 mm", "length", "CP", "common practice, no source: under about 8.5 mm (1/3 in)", LIGHT_WEB,
        "a piece no longer than the abdomen is the gentler of the two and stays the advice", 1, 50,
    ),
    TradeRule(
        "prey_kind", "prey to name in the advice instead of the usual one", "", "text", "CP", PRACTICE,
        "animals that take prey from 4 mm",
    ),
    TradeRule(
        "prey_number", "prey animals in one offer", "1", "count", "CP", PRACTICE, "prey from 4 mm",
        "several small rather than one big (B): raise it with smaller prey", 1, 20,
    ),
    TradeRule(
        "tiny_prey_number", "prey animals in one offer of flies, springtails or hatchlings", "2",
        "count", "CP", PRACTICE, "prey under 4 mm", "", 1, 50,
    ),
    TradeRule(
        "leftovers_days", "days after which uneaten prey comes out", "1", "days", "C",
        "keepers' pages: within 24 h; at once when a moult is near (B): crickets bite moulting spiders",
        low=0, high=14,
    ),
    TradeRule(
        "ask_outcome_days", "days for which open offers and leftovers are asked for", "14",
        "days", "choice", "chosen for this program: later nobody knows, and it stays unknown", low=1,
        high=365,
    ),
    TradeRule(
        "refusal_streak", "refusals in a row that make a streak", "3", "count", "choice", CHOICE, low=2,
        high=20,
    ),
    TradeRule(
        "streak_premoult_odds",
        "chance that premoult has begun from which a streak of refusals is put down to it",
        "0.5", "share", "choice",
        "chosen for this program, no source: below it you are asked to look at the animal instead",
        low=0.05, high=1,
    ),
    TradeRule(
        "try_again_days", "days to leave it in peace after such a streak, before one more offer", "14",
        "days", "choice", CHOICE, low=1, high=120,
    ),
)  # fmt: skip

_MOULT = (
    TradeRule(
        "premoult_odds", "chance of a moult within the premoult days from which it is left alone",
        "0.5", "share", "choice", CHOICE, low=0.05, high=1,
    ),
    TradeRule(
        "premoult_share", "premoult days as a share of the whole interval", "0.2", "share", "choice",
        "chosen for this program: days in spiderlings, weeks in adults, in proportion to the interval",
        low=0.02, high=0.6,
    ),
    TradeRule(
        "premoult_days_most", "most days ahead for which the odds alone mean leave alone", "14", "days",
        "choice", "chosen for this program; weeks to 2 months in adults (C) would starve on wide odds",
        low=1, high=120,
    ),
    TradeRule(
        "watch_days_most", "most days ahead for which the odds mean pre-killed prey only", "60", "days",
        "C", "keepers' pages: premoult takes weeks to 2 months in adults", low=1, high=365,
    ),
    TradeRule(
        "watch_odds", "chance of a moult within these days from which prey is offered pre-killed",
        "0.3", "share", "choice", CHOICE, low=0.05, high=1,
    ),
    TradeRule(
        "signs_hold_days", "days for which a seen sign of premoult holds without a new look", "60",
        "days", "C", "keepers' pages: weeks to 2 months in adults", low=1, high=365,
    ),
    TradeRule(
        "hardening_sling_days", "days without prey after a moult unless black fangs are seen", "7",
        "days", "D", "unsigned pages: 3–7 days; black fangs are common practice (CP)", "spiderlings",
        "about 4 in the young (C)", 1, 60,
    ),
    TradeRule(
        "hardening_small_days", "days without prey after a moult unless black fangs are seen", "10",
        "days", "D", "unsigned pages: 7–10 days; black fangs are common practice (CP)", "small animals",
        "", 1, 60,
    ),
    TradeRule(
        "hardening_medium_days", "days without prey after a moult unless black fangs are seen", "14",
        "days", "D", "unsigned pages: 10–14 days; black fangs are common practice (CP)",
        "medium animals", "", 1, 90,
    ),
    TradeRule(
        "hardening_large_days", "days without prey after a moult unless black fangs are seen", "21",
        "days", "D", "unsigned pages: 14–21 days; black fangs are common practice (CP)",
        "large animals", "", 1, 120,
    ),
    TradeRule(
        "hardening_unknown_days", "days without prey after a moult unless black fangs are seen", "21",
        "days", "D", "the longest of the figures for any size", "animals of unknown size", "", 1, 120,
    ),
    TradeRule(
        "overdue_level", "point of the expected interval beyond which it is overdue", "0.95", "share",
        "choice", CHOICE, low=0.5, high=0.999,
    ),
    TradeRule(
        "unseen_odds", "chance that it moulted unseen from which you look before you offer", "0.3",
        "share", "choice", CHOICE, low=0.02, high=1,
    ),
    TradeRule(
        "not_seen_sling_days", "days without a sign of life before you look, spiderlings", "14", "days",
        "CP", PRACTICE, "spiderlings", low=1, high=365, never=True,
    ),
    TradeRule(
        "not_seen_days", "days without a sign of life before you look", "30", "days", "CP", PRACTICE,
        low=1, high=730, never=True,
    ),
    TradeRule(
        "not_seen_sealed_days", "the same behind a sealed burrow or retreat", "90", "days", "CP",
        PRACTICE, "sealed retreats", "one fast of 5 months on record (C)", 1, 730, never=True,
    ),
    TradeRule(
        "look_again_days", "days for which a look with signs settles a doubt", "7", "days", "choice",
        CHOICE, low=1, high=90,
    ),
)  # fmt: skip

_WATER_SOURCE = "a plain interval, common practice, no source: only where a home was never weighed or felt"


def _water(habit: str, days: int, words: str) -> TradeRule:
    return TradeRule(
        f"water_{habit}_days", "days until the substrate is felt again, where the home has no figures",
        str(days), "days", "CP", _WATER_SOURCE, words,
        "manage the substrate, not the air's humidity (B/C)", 1, 365, True,
    )  # fmt: skip


_WATER = (
    _water("ground", 10, "ground dwellers"),
    _water("burrower", 14, "burrowers"),
    _water("trapdoor", 14, "trapdoor builders"),
    _water("tube", 14, "tube builders"),
    _water("tree", 7, "tree dwellers"),
    _water("web_builder", 7, "web builders"),
    _water("wanderer", 7, "wanderers"),
    _water("unknown", 10, "animals of unknown habit"),
    TradeRule(
        "water_ml", "millilitres in one watering", "", "volume", "CP",
        "unknown until the keeper says so; else what the home's figures ask, or the last amount on record",
        low=0.01, high=5000,
    ),
    TradeRule(
        "feel_odds", "chance that the bottom is dry from which a home with figures is felt all the same",
        "0.1", "share", "choice", CHOICE, low=0.01, high=1,
    ),
    TradeRule(
        "feel_homes_per_round", "substrates asked to be felt in one round, at most", "12", "count", "choice",
        CHOICE, "the room", "those most likely dry first; the others in the next rounds", 0, 1000,
    ),
    TradeRule(
        "weigh_homes_per_round", "homes asked to be weighed in one round, at most", "3", "count", "choice",
        CHOICE, "the room", "only homes whose loss a weighing or three would settle", 0, 1000,
    ),
    TradeRule(
        "drink_days", "days between chances to drink (drops or a filled dish)", "7", "days", "CP",
        PRACTICE, "no plan lengthens it", low=1, high=60,
    ),
    TradeRule(
        "drink_sling_days", "the same for a spiderling", "4", "days", "CP", PRACTICE, "spiderlings",
        low=1, high=30, never=True,
    ),
)  # fmt: skip

_HOUSING = (
    TradeRule(
        "settle_days", "days after arrival or a move without rehousing", "14", "days", "CP",
        "common practice: not in the first 1–2 weeks", low=0, high=120,
    ),
    TradeRule(
        "measure_days", "days after which a size is due again", "180", "days", "choice", CHOICE, low=7,
        high=3650, never=True,
    ),
    TradeRule(
        "measure_per_round", "animals asked to be measured in one round, at most", "5", "count",
        "choice", CHOICE, "the room", low=0, high=1000,
    ),
    TradeRule(
        "shed_skin_days", "days within which a kept shed skin is asked to be measured", "30", "days",
        "choice", CHOICE, low=1, high=730, never=True,
    ),
    TradeRule(
        "weigh_days", "days after which a mass is due again", "never", "days", "choice",
        "chosen for this program: weighing disturbs, so only where the keeper asks for it", low=7,
        high=3650, never=True,
    ),
    TradeRule(
        "quarantine_days", "days of quarantine after arrival", "30", "days", "A",
        "AZA 2007 (zoo standard, all species): at least 30 days, served last",
        "arrivals; animals hatched here are exempt", low=0, high=730,
    ),
    TradeRule(
        "quarantine_restarts", "whether a newcomer on the same shelf starts the quarantine days anew",
        "yes", "yes_no", "A", "AZA 2007 (zoo standard, all species): restarting with each newcomer",
        "animals in quarantine by the arrival rule",
    ),
)  # fmt: skip

_CLIMATE = (
    TradeRule(
        "cold_night_c", "temperature under which a night (or a day's mean) counts as cold", "17 C",
        "temperature", "choice",
        "chosen for this program: 3 °C under the 20 °C and up of keepers' pages (C), as brief lows are "
        "tolerated (B)", "a shelf or the whole room, not taxa or animals", "22–26 °C is usual (C)", 0, 30,
        never=True,
    ),
    TradeRule(
        "cold_drop_c", "fall of a day's mean under the week before that counts as sudden cold", "3 C",
        "degrees", "choice", "chosen for this program: weather seldom does it, a failed heater does",
        "a shelf or the whole room, not taxa or animals", "", 0.5, 20, never=True,
    ),
    TradeRule(
        "heat_wave_c", "temperature over which a day counts as a heat wave", "30 C", "temperature", "choice",
        "chosen for this program: above the usual 22–26 °C (C) and under the 32 °C from which growth slows "
        "again in the one spider followed (A: LIERIG)", "a shelf or the whole room, not taxa or animals", "",
        20, 45, never=True,
    ),
    TradeRule(
        "warm_target_c", "temperature that thermal days lost in winter are held against", "", "temperature",
        "choice", "chosen for this program: unknown, so each place's own warm half-year is taken",
        "a shelf or the whole room, not taxa or animals", "", 10, 32,
    ),
    TradeRule(
        "no_reading_days", "days without a reading after which a place is told", "7", "days", "choice",
        CHOICE, "a shelf or the whole room that was read before", "", 1, 365, never=True,
    ),
)  # fmt: skip

_LOGGERS = (
    TradeRule(
        "logger_clock", "clock of the loggers there: local (follows summer time), winter or summer (that "
        "time all year) or utc", "", "text", "choice",
        "chosen for this program: unknown, so a file tells by itself, or is asked about", "a shelf or the "
        "whole room, when their files are taken in; --clock overrides it",
        choices=("local", "winter", "summer", "utc"),
    ),
    TradeRule(
        "logger_fast_minutes", "minutes by which the clock of the loggers there is always ahead (behind: "
        "below zero)", "0", "minutes", "choice", CHOICE, "a shelf or the whole room, when their files are "
        "taken in; one that drifts is told by --fast at each import", low=-720, high=720,
    ),
)  # fmt: skip

SECTIONS: tuple[tuple[str, tuple[TradeRule, ...]], ...] = (
    ("Feeding", _FEEDING),
    ("Moults and looks", _MOULT),
    ("Water", _WATER),
    ("Which home fits", FIT),
    ("Moves, sizes and quarantine", _HOUSING),
    ("Climate", _CLIMATE),
    ("Climate loggers", _LOGGERS),
)

RULES: dict[str, TradeRule] = {rule.key: rule for _, rules in SECTIONS for rule in rules}
"""Every rule by its key, in the order in which the page of rules shows them."""
