"""What a logger file leaves open, asked of the keeper: the option that answers it, and what to answer."""

from __future__ import annotations

from nightround.foundation.refusal import NotReadable


class Question(NotReadable):
    """It cannot be read without an answer: `option` is the command's, `choices` what may be answered."""

    def __init__(self, wanted: str, *, got: str, option: str, choices: tuple[str, ...]) -> None:
        self.option, self.choices = option, choices
        super().__init__(wanted, got=got, todo=f"Say {' or '.join(f'{option} {each}' for each in choices)}")
