"""Settings by which strength is judged."""

from __future__ import annotations

from typing import Annotated, Literal

from splitterfem.design._kinds import SafetyFactor
from splitterfem.design._record import Record
from splitterfem.units import Quantity

PositiveFactor = Annotated[float, Quantity("number", above=0.0)]


class StrengthSettings(Record):
    """Factors between loads and strengths.

    Wood is judged as in EN 1995-1-1: a characteristic strength times k_mod, which follows from the service
    class and the duration of the load (table 3.1), over a partial factor (table 2.3). The flat factors on
    metal and adhesive are common practice and have no source.

    Parameters
    ----------
    service_class : {1, 2, 3}
        How damp the wood gets (EN 1995-1-1 2.3.1.3): 1 as indoors, 2 as under a roof, 3 wetter than that. A
        panel that sees rain and spray is in class 3.
    gamma_m_wood : number
        Partial factor on the strength of the board; 1.2 for plywood (EN 1995-1-1 table 2.3).
    metal_factor : number
        On the yield strength of metal (common practice, no source).
    adhesive_factor : number
        On the strength of adhesives; 3 without fasteners as a back-up (common practice, no source).
    load_factor : number
        On all loads, on top of the factor of a case.
    """

    service_class: Literal[1, 2, 3] = 3
    gamma_m_wood: SafetyFactor = 1.2
    metal_factor: SafetyFactor = 1.5
    adhesive_factor: SafetyFactor = 3.0
    load_factor: PositiveFactor = 1.0
