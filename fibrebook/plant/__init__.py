"""Floor 2: connectivity of the records. Arrow tables and integers in, paths, states and strands out; it formats no text
for people beyond labels, and knows neither the store nor the optics."""

from fibrebook.plant.network import Network
from fibrebook.plant.states import STATES, core_states

__all__ = ["STATES", "Network", "core_states"]
