"""docs/record.md says what the code says, and every kind of problem is explained."""

import re
from pathlib import Path

from nightround.record.problem_kinds import PROBLEM_KINDS
from tools.write_record import PAGE, record_page

CODE = Path(__file__).resolve().parents[2] / "src" / "nightround" / "record"


def test_the_page_is_written_from_the_code() -> None:
    """Run tools/write_record.py after a change."""
    assert record_page() == PAGE.read_text(encoding="utf-8")


def test_every_kind_in_the_code_is_explained_and_the_other_way() -> None:
    """Every quoted snake-case word of a kind stands in the code, and no kind is raised without its row."""
    code = "".join(
        path.read_text(encoding="utf-8") for path in CODE.glob("*.py") if path.stem != "problem_kinds"
    )
    missing = [
        kind
        for kind in PROBLEM_KINDS
        if f'"{kind}"' not in code and not kind.startswith(("after_", "moult_after_"))
    ]
    assert [] == missing
    raised = set(re.findall(r'(?:Problem|_problem|problem|_change)\(\s*"([a-z_]+)"', code))
    assert set() == raised - set(PROBLEM_KINDS)
    assert len(raised) > 20
