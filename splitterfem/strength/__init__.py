"""Stresses and utilisations of panel, ribs, joints and hardware: pure formulas on plain SI numbers.

Every formula returns a float or a `Resistance` that names its source and how well it is known; a resistance set
against a demand gives a `Check`, and checks make one table, worst first::

    >>> from splitterfem.strength import utilisation_table
    >>> from splitterfem.strength.bars import threaded_bar
    >>> from splitterfem.strength.hardware import thread
    >>> from splitterfem.strength.struts import compression
    >>> rod = threaded_bar(thread("M6").stress_area)
    >>> load = compression(rod, length=0.25, E=205e9, yield_strength=240e6)
    >>> table = utilisation_table([load.check(600.0, part="strut left", kind="strut", load_factor=1.5)])
    >>> round(float(table.ratio[0]), 2)
    0.86

Nothing is divided by a factor that was not given: partial factors of a standard are arguments with its values as
defaults, factors of safety have none. Strengths of wood come out characteristic; `timber.TimberFactors` makes
design values of them. An interaction formula gives a check without unit whose ratio is the sum.

Modules
-------
row
    `Check`, `Resistance` (``divided``, ``check``), `weakest`, `least`, `utilisation_table`.
hardware
    `thread`, `bolt_class`, `washer`, `blind_rivet`: the tables in ``data``, each with source and basis.
timber
    `ServiceClass`, `LoadDuration`, `k_mod`, `gamma_M`, `timber_factors`, `face_compression`.
factors
    Usual factors of safety (common practice, no source), `failure_order`.
bars
    `round_bar`, `threaded_bar`, `round_tube`, `axial_stiffness`, `vertical_stiffness`, `pull_along_panel`.
struts
    `bar_tension`, `thread_tension`, `rated` (end fittings, ball-lock pins, cables), `compression` (Euler, Johnson),
    `eccentric_compression`.
pins
    `pin_shear`, `pin_bearing`, `pin_moment`, `pin_bending`, `pin_shear_and_bending`, `pin_contact_stress`,
    `lug_net_tension`, `lug_tear_out`, `lug_bearing`.
fasteners
    Bolts in plywood: `embedment_strength`, `embedment`, `yield_moment`, `steel_to_timber_shear`, `bolt_distances`,
    `nail_distances`.
edges
    `worst_distance`, `edge_check`: fasteners and the edges of the panel, with `wood_rule` and `metal_rule`.
washers
    `washer_bearing`, `plate_bearing`, `punching`, `planar_shear_ring`, `head_pull_through`, `panel_pull_through`,
    `screw_withdrawal`.
metal
    `bolt_shear`, `bolt_shear_and_tension`, `sheet_bearing`, `sheet_pull_through`, `screw_pull_out`,
    `screw_pull_over`, `screw_tilting`, `rivet_resistances`.
pads
    `pad_bending_moment`, `pad_bending_stress`: the panel at a small washer, by hand; `pad_bearing`.
joints
    `shear_flow`, `fastener_load`, `bond_stress`, `bond_strength`, `bond_stiffness`, `partial_composite`.
peel
    `bed_length`, `peel_stress`, `peel_strength`: estimate of what lifts the end of a glued rib.
panel, layers, sandwich, utilisation
    `panel_utilisation` from stress resultants at many points and a sheet or layup; `handbook_utilisation`,
    `metal_utilisation`, `wrinkling`, `sandwich_faces`; `DesignFactors`, `PanelUtilisation`.
pocket
    `lip_line_load`, `panel_under_lip`, `lip_bending`, `overlap_check` with `slope_shortening`, `strut_arc`,
    `moisture`, `temperature`.
ribs
    `fibre_strength`, `worst_along`.
walls, section_walls
    Buckling of compressed walls: `buckling_factor`, `plate_buckling_stress`, `wall_reduction`, `aluminium_reduction`,
    `wall_strength`, `round_wall_strength`; `section_walls` of a section.
assess
    `assess`: all checks of a solved load case. `assess_panel`, `assess_ribs` with `assess_walls`, `assess_joints`,
    `assess_supports` (struts), `assess_fixings` (bolts), `assess_pins`, `assess_pockets` and `assess_stops` make
    those of each kind of part; `assess_sheet` is the panel as its fixings feel it.

Cautions
--------
The formulas judge a part at the load they are given; they say nothing of crash, fatigue or workmanship. Bond lines,
screws and rivets in thin walls and pull-through in panels are the least certain figures here: look at the
``basis`` of a row before trusting its ratio, test a sample joint, lock every fastener, and keep a tether that holds
when all else fails.
"""

from __future__ import annotations

from splitterfem.strength.row import Check, Resistance, least, utilisation_table, weakest

__all__ = ["Check", "Resistance", "least", "utilisation_table", "weakest"]
