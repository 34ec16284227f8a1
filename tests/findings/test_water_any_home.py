"""Whatever a keeper wrote of a home, its water or what is missing is told: no crash, nothing negative."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from findings.watered_home import day
from nightround.findings.water.changes import away, changes
from nightround.findings.water.report import room_water, water_report
from record.notebook import told

ODD = st.sampled_from(["-5", "0", "0.2", "5000", "1000000"])
SIZES = {
    "inner_length_mm": ("30", "200", "400"), "inner_width_mm": ("30", "150"),
    "inner_height_mm": ("60", "400"),
    "depth_low_mm": ("3", "20", "50"), "depth_high_mm": ("20", "59"), "base_length_mm": ("25", "180"),
}  # fmt: skip
OPENING = {"width_mm": ("1", "4", "20"), "length_mm": ("5", "25"), "thickness_mm": ("0.5", "2")}
ACTS = st.sampled_from([
    "watered  value=20; where=side", "watered  where=web", "watered  value=100000", "watered  value=-3",
    "weighed  value=500; written=500; written_unit=g", "weighed  value=0", "misted", "misted  value=5",
    "weighed  value=12; written=x; written_unit=q", "moisture_felt  surface=dry; bottom=wet", "moisture_felt",
    "trouble  what=flooded", "cleaned", "lid_cover  fraction=0.5", "lid_cover  fraction=1",
    "lid_cover  fraction=7", "lid_cover", "dish  state=filled", "dish  state=found_dry",
])  # fmt: skip


@st.composite
def fields(draw: st.DrawFn, usual: dict[str, tuple[str, ...]]) -> str:
    """Fields mostly as they may be, seldom odd or left out."""
    found = []
    for name, values in usual.items():
        luck = draw(st.integers(0, 24))
        if luck:
            found.append(f"{name}={draw(ODD if luck == 1 else st.sampled_from(values))}")
    return "; ".join(found)


@st.composite
def homes(draw: st.DrawFn) -> str:
    """A home with some sizes, some openings and some acts, sensible or not."""
    shape = draw(st.sampled_from(["box", "cylinder", "tapered"]))
    mix = draw(st.sampled_from(["coir 70, sand 30", "peat", "topsoil 50, clay 50", "", "dragon dust"]))
    lines = [
        (0, "animal K1  arrived  home=H1"),
        (0, f"home H1  made_up  shape={shape}; substrate={mix}; {draw(fields(SIZES))}"),
    ]
    for _ in range(draw(st.integers(0, 2))):
        shape = draw(st.sampled_from(["hole", "slot", "mesh", "perforated"]))
        number = draw(st.sampled_from(["number=1", "number=12", "number=0"]))
        lines.append((0, f"home H1  opening  shape={shape}; {number}; {draw(fields(OPENING))}"))
    for _ in range(draw(st.integers(0, 6))):
        lines.append((draw(st.integers(0, 20)), f"home H1  {draw(ACTS)}"))
    return "\n".join(f"{day(at)}  {words}" for at, words in lines)


@settings(max_examples=60, deadline=None)
@given(homes())
def test_any_home_is_told_or_what_is_missing_is(page: str) -> None:
    """Figures and `missing` exclude each other; quantiles rise; no dose without calibration."""
    record = told(page, day(20))
    water = room_water(record)
    (home,) = water_report(record, water, room="test").homes
    assert 1 == len(away(record, water, 10, room="test").homes)
    if home.loss_now is None:
        assert "describe" == home.dose.advised
        assert home.bottom is None
        return
    assert () == home.missing
    assert 0.0 <= home.loss_now.low <= home.loss_now.value <= home.loss_now.high
    assert home.dose.ml is None or home.dose.ml > 0.0
    for each in home.course:
        assert 0.0 <= each.bottom[0] <= each.bottom[1] <= each.bottom[2] <= 1.0
    assert home.calibration is not None
    assert home.calibration.how != "not" or home.dose.ml is None
    assert 2 <= len(changes(water, water.courses["H1"])) <= 3
