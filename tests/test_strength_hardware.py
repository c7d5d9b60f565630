"""Tables of threads, strength classes, washers, rivets, and of factors on wood."""

from __future__ import annotations

import math

import pytest

from splitterfem.errors import DesignError
from splitterfem.strength.hardware import (
    blind_rivet,
    blind_rivets,
    bolt_class,
    bolt_classes,
    thread,
    threads,
    washer,
    washers,
)
from splitterfem.strength.row import BASES, Resistance
from splitterfem.strength.timber import (
    LoadDuration,
    ServiceClass,
    TimberFactors,
    face_compression,
    gamma_M,
    k_mod,
    timber_factors,
)
from splitterfem.strength.washers import washer_fits_timber

IN = 0.0254


@pytest.mark.parametrize("name", [name for name in threads() if name.startswith("M")])
def test_stress_area_of_metric_threads(name: str) -> None:
    """ISO 898-1: A_s = pi / 4 (d - 0.9382 P)^2 (formula from memory), table rounded to three digits."""
    t = thread(name)
    area = math.pi / 4 * (t.diameter - 0.9382 * t.pitch) ** 2
    assert t.stress_area == pytest.approx(area, rel=3e-3)
    assert t.diameter == float(name[1:]) * 1e-3


@pytest.mark.parametrize("name", [name for name in threads() if name.startswith(("1", "3", "5"))])
def test_stress_area_of_unified_threads(name: str) -> None:
    """ASME B1.1: A_t = 0.7854 (D - 0.9743 / n)^2."""
    t = thread(name)
    area = 0.7854 * (t.diameter - 0.9743 * t.pitch) ** 2
    assert t.stress_area == pytest.approx(area, rel=3e-3)


def test_unified_threads_of_the_table() -> None:
    """Published table of thread stress areas (ASME B1.1), square inches."""
    table = {"10-32 UNF": 0.0200, "1/4-28 UNF": 0.0364, "5/16-24 UNF": 0.0580, "3/8-16 UNC": 0.0775}
    assert {n: thread(n).stress_area / IN**2 for n in table} == pytest.approx(table)


@pytest.mark.parametrize("name", [*bolt_classes()])
def test_strength_classes_follow_their_name(name: str) -> None:
    """ISO 898-1: first figure a hundredth of the strength in MPa, second ten times the yield ratio."""
    found = bolt_class(name)
    first, second = name.split(".")
    assert found.ultimate == float(first) * 100e6
    assert found.yield_strength == pytest.approx(float(first) * 10e6 * float(second))
    assert found.alpha_v in (0.5, 0.6)


@pytest.mark.parametrize(
    ("size", "outer"), [("M4", 9), ("M5", 10), ("M6", 12), ("M8", 16), ("M10", 20), ("M12", 24)]
)
def test_normal_washers(size: str, outer: float) -> None:
    """ISO 7089, outside diameters."""
    assert washer(size).outer == pytest.approx(outer * 1e-3)


def test_washers_for_timber() -> None:
    """EN 1995-1-1 10.4.3 (from memory): at least 3 d wide and 0.3 d thick; only the widest series does it."""
    fit = {
        f"{w.size} {w.series}": washer_fits_timber(w, float(w.size[1:]) * 1e-3) for w in washers().values()
    }
    assert fit["M6 extra large"]
    assert not fit["M6 large"]  # 1.6 mm instead of 1.8
    assert not any(ok for name, ok in fit.items() if name.endswith("normal"))


def test_rivets_are_ordered_and_found_by_inch_sizes() -> None:
    loads = [r.shear for r in blind_rivets()]
    assert loads == sorted(loads)
    assert blind_rivet(3 / 16 * IN).diameter == 4.8e-3
    with pytest.raises(DesignError, match=r"no blind rivet of 6 mm .* known: 3.2, 4, 4.8 mm"):
        blind_rivet(6e-3)


def test_every_row_has_a_source_and_a_basis() -> None:
    rows = [*threads().values(), *bolt_classes().values(), *washers().values(), *blind_rivets()]
    assert len(rows) > 30
    assert all(row.source and row.basis in BASES for row in rows)


def test_unknown_names_are_answered_with_near_ones() -> None:
    with pytest.raises(DesignError, match=r"no thread '1/4-28'.*did you mean '1/4-28 UNF'"):
        thread("1/4-28")
    with pytest.raises(DesignError, match=r"no strength class '8\.9'"):
        bolt_class("8.9")
    with pytest.raises(DesignError, match="no washer 'M6 huge'"):
        washer("M6", "huge")
    assert thread(" 1/4-28  unf ") is thread("1/4-28 UNF")


# EN 1995-1-1 table 3.1, plywood to EN 636 (published extract).
K_MOD = {
    1: (0.60, 0.70, 0.80, 0.90, 1.10),
    2: (0.60, 0.70, 0.80, 0.90, 1.10),
    3: (0.50, 0.55, 0.65, 0.70, 0.90),
}


@pytest.mark.parametrize("service_class", [*ServiceClass])
def test_k_mod_of_the_standard(service_class: ServiceClass) -> None:
    assert tuple(k_mod(service_class, duration) for duration in LoadDuration) == K_MOD[service_class]


def test_a_board_is_not_used_wetter_than_it_is_made_for() -> None:
    """EN 636 / EN 1995-1-1 table 3.1: only EN 636-3 boards in service class 3."""
    with pytest.raises(DesignError, match=r"EN 636-2 is not made for service class 3"):
        k_mod(3, "short", bond_class=2)
    with pytest.raises(DesignError, match="class of 1, 2 or 3"):
        k_mod(4, "short")
    with pytest.raises(DesignError, match="duration 'brief'"):
        k_mod(2, "brief")
    with pytest.raises(DesignError, match="no partial factor of 'glue'"):
        gamma_M("glue")


def test_design_values_of_a_12_mm_board() -> None:
    """Bending along 42.9 MPa: wet and short 25.0 MPa, wet and instantaneous 32.2 MPa (by hand, gamma_M 1.2)."""
    wet = timber_factors(ServiceClass.WET, LoadDuration.SHORT)
    strike = timber_factors(ServiceClass.WET, LoadDuration.INSTANTANEOUS)
    assert 42.9 * wet.factor == pytest.approx(25.0, abs=0.05)
    assert 42.9 * strike.factor == pytest.approx(32.2, abs=0.05)
    bending = Resistance("bending", 42.9e6, "Pa", "handbook", "memory")
    assert wet.design(bending).value == pytest.approx(25.025e6)
    assert timber_factors(3, "short", member="connection").gamma == 1.3
    with pytest.raises(DesignError, match="k mod is 0"):
        TimberFactors(0.0, 1.3)


def test_face_compression_is_marked_indicative() -> None:
    assert (face_compression().value, face_compression().basis) == (8e6, "indicative")
