"""Connectivity of the records: paths, far ends, states, strands.

In come Arrow tables and integers; out go paths, states and ways of light by number.
It formats no text for people beyond labels, and knows neither the store nor the optics.
"""

from fibrebook.plant.network import Network
from fibrebook.plant.states import STATES, core_states

__all__ = ["STATES", "Network", "core_states"]
