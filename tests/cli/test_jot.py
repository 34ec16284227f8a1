"""`jot` and `undo`: shown first, asked for, written whole, undone by its ID."""

from __future__ import annotations

import re
from pathlib import Path

from cli.test_commands import entries, room, run
from nightround.desk.desk import Desk

__all__ = ["room"]


def test_it_shows_what_it_understood_and_asks(room: Path) -> None:
    """Words and dates first; a no writes nothing and is exit code 1."""
    before = entries(room)
    done = run("jot", "K12 took 2 crickets", "--on", "2026-06-02", told="n\n")
    assert 1 == done.exit_code
    assert "K12, Tue 2026-06-02: offered 2 × cricket: taken" in done.stdout
    assert "nothing was written" in done.stderr
    assert before == entries(room)
    asked = run("jot", "K12 took 2 crickets", "--on", "2026-06-02", told="y\n")
    assert 0 == asked.exit_code
    assert before + 1 == entries(room)


def test_nobody_there_to_answer_is_a_no(room: Path) -> None:
    """Without an answer nothing is written, and the way to write without being asked is said."""
    before = entries(room)
    done = run("jot", "K12 refused", told="")
    assert 1 == done.exit_code
    assert "--yes" in done.stderr
    assert before == entries(room)


def test_one_word_not_understood_writes_nothing(room: Path) -> None:
    """A good part beside a bad one: nothing of either is written, and the bad one is named."""
    before = entries(room)
    done = run("jot", "K12 refused; K07 danced", "--yes")
    assert 1 == done.exit_code
    assert "Not understood: 'K07 danced'." in done.stderr
    assert "got 'danced'" in done.stderr
    assert before == entries(room)


def test_undo_by_the_id_that_was_told(room: Path) -> None:
    """The receipt names an ID; undoing it strikes the entries, undoing that brings them back."""
    done = run("jot", "--yes", "K12 refused; K07 refused", "--on", "2026-06-02")
    act = re.search(r"nightround undo (\S+)", done.stdout)
    assert act is not None
    undone = run("undo", act[1])
    assert 0 == undone.exit_code
    assert "Undone: 2 entries." in undone.stdout
    with Desk.open(room) as desk:
        assert () == desk.find("K12").offers
    assert "undone already" in run("undo", act[1]).stdout
    back = re.search(r"nightround undo (\S+)", undone.stdout)
    assert back is not None
    assert 0 == run("undo", back[1]).exit_code
    with Desk.open(room) as desk:
        assert ["refused"] == [offer.outcome for offer in desk.find("K12").offers]
    assert 1 == run("undo", "nothing-of-that-name").exit_code


def test_a_death_is_asked_twice(room: Path) -> None:
    """One yes is not enough for what ends an animal's stay; two are, on the keyboard or as options."""
    before = entries(room)
    once = run("jot", "K12 died today", "--yes", told="")
    assert 1 == once.exit_code
    assert "--yes twice" in once.stderr
    assert 1 == run("jot", "K12 died today", told="y\nn\n").exit_code
    assert before == entries(room)
    assert 0 == run("jot", "K12 died today", told="y\ny\n").exit_code
    assert 0 == run("jot", "K07 sold to a friend", "--yes", "--yes").exit_code
    with Desk.open(room) as desk:
        assert ("dead", "left") == (desk.find("K12").status, desk.find("K07").status)


def test_lines_from_standard_input(room: Path) -> None:
    """Several lines at once, as one act."""
    done = run("jot", "-", "--yes", told="K12 refused\nshelf B 19.5 C 60%\n")
    assert 0 == done.exit_code, done.stderr
    assert "Written: 2 entries." in done.stdout
    assert 1 == run("jot", "-", "--yes", told="\n").exit_code


def test_a_day_to_come_is_refused(room: Path) -> None:
    """What was done cannot be dated after today: a slip in --on writes nothing."""
    before = entries(room)
    done = run("jot", "--yes", "K12 seen", "--on", "2126-06-02")
    assert 1 == done.exit_code
    assert "an evening that has come" in done.stderr
    assert before == entries(room)
