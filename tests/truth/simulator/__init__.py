"""Simulated flights whose answer is known. Shares no code with the analysis it judges."""

from .scenario import Scenario
from .simulation import SimulatedLog, simulate, wing_toml
from .truth import Decoy, TrueClimb, TrueFlight, TrueGlide, TruePass, TruePhase, Truth

__all__ = [
    "Decoy", "Scenario", "SimulatedLog", "TrueClimb", "TrueFlight", "TrueGlide", "TruePass", "TruePhase", "Truth",
    "simulate", "wing_toml",
]  # fmt: skip
