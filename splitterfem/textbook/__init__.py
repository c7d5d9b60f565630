"""Plates, ribs and joints of textbooks and standards, computed with the library's own elements, as tables.

From the bottom: `case` (a published value, its source, and what computes it), `plates`, `vibration`, `ribs`, `joints`
(the cases), `orders` (how fast errors fall with the mesh), `formulations` (beside others, from the results of the
benchmarks), `tables` (all together), `pictures`.
"""

from __future__ import annotations

from splitterfem.textbook.case import Case
from splitterfem.textbook.formulations import formulations
from splitterfem.textbook.orders import orders
from splitterfem.textbook.pictures import plot_differences, plot_formulations, plot_orders, plot_slip
from splitterfem.textbook.tables import all_cases, table

__all__ = [
    "Case",
    "all_cases",
    "formulations",
    "orders",
    "plot_differences",
    "plot_formulations",
    "plot_orders",
    "plot_slip",
    "table",
]
