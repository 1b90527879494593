"""Average launch and receive powers in dBm of the optics that the demo firm meets.

Order: launch least, launch most, receive least, receive most. Source: IEEE 802.3, clause named beside
each; 100BASE-FX: ISO/IEC 9314-3 as IEEE 802.3 clause 26 takes it over. From memory where so marked.
"""

from __future__ import annotations

POWERS_DBM: dict[str, tuple[float, float, float, float]] = {
    "100BASE-FX": (-20.0, -14.0, -31.0, -14.0),  # clause 26, 62.5/125; from memory
    "1000BASE-SX": (-9.5, -4.0, -17.0, 0.0),  # clause 38; launch most: makers' usual figure
    "1000BASE-LX": (-11.0, -3.0, -19.0, -3.0),  # clause 38, single-mode
    "1000BASE-LX10": (-9.0, -3.0, -19.5, -3.0),  # clause 59; from memory
    "1000BASE-BX10-D": (-9.0, -3.0, -19.5, -3.0),  # clause 59; from memory
    "1000BASE-BX10-U": (-9.0, -3.0, -19.5, -3.0),  # clause 59; from memory
    "10GBASE-SR": (-7.3, -1.0, -9.9, -1.0),  # clause 52
    "10GBASE-LR": (-8.2, 0.5, -14.4, 0.5),  # clause 52
    "10GBASE-ER": (-4.7, 4.0, -15.8, -1.0),  # clause 52; launch from memory
}
