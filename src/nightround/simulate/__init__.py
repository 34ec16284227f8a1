"""The demo room's simulator: an invented keeper's three years, with the truth beside the record."""

from nightround.simulate.histories import MoultRoom, moult_room
from nightround.simulate.life import Breaks
from nightround.simulate.rooms import NAME, room
from nightround.simulate.truth import SimulatedRoom, TrueAnimal, Truth

__all__ = ["NAME", "Breaks", "MoultRoom", "SimulatedRoom", "TrueAnimal", "Truth", "moult_room", "room"]
