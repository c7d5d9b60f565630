"""Parts lost in turn, against designs that are built without them in the first place."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pandas as pd
import pytest

import splitterfem as sf
from splitterfem.fem.structure import Structure
from splitterfem.model import Model, build
from splitterfem.model.ribs import model_ribs
from splitterfem.model.supports import model_supports

TUBE = {"shape": "tube", "width": 0.0254, "height": 0.0254, "wall": 0.0032}
CORNERS = [(0.05, -0.25), (0.05, 0.25), (0.55, -0.25), (0.55, 0.25)]

PINS = [
    {"name": "round", "at": (0.2, 0.0)},
    {"name": "other", "at": (0.4, 0.0)},
    {"name": "third", "at": (0.2, 0.1)},
]


def panel(**more: Any) -> sf.Splitter:
    """600 x 600 mm of plywood with pins for the plane; what holds z is given."""
    return sf.Splitter.model_validate(
        {
            "name": "square",
            "panel": {
                "outline": {"start": (0, -0.3), "edges": [{"to": (0.6, -0.3)}, {"to": (0.6, 0.3)}, {"to": (0, 0.3)}]},
                "sheet": {"material": "birch plywood 12 mm", "thickness": 0.012},
            },
            "pins": [{"name": "round", "at": (0.2, 0.0)}, {"name": "other", "at": (0.4, 0.0)}],
            "car": {"ride_height": 0.08},
            "mesh": {"size": 0.05},
            "cases": [{"name": "air", "speed": 50.0, "pressure": {"kind": "uniform", "cp": 0.8}}],
        } | more
    )  # fmt: skip


def bolts(*places: tuple[float, float]) -> list[dict[str, Any]]:
    return [{"name": f"bolt {i}", "at": at, "holds": "z"} for i, at in enumerate(places, start=1)]


def by_name(table: pd.DataFrame) -> pd.DataFrame:
    return table.set_index("lost")


@pytest.fixture(scope="module")
def ribbed() -> sf.Splitter:
    """Redundant: four bolts, three pins, a rib and a mirrored pair of ribs."""
    return panel(
        pins=PINS,
        bolts=bolts(*CORNERS),
        ribs=[
            {"name": "cross", "points": [(0.3, -0.25), (0.3, 0.25)], "section": TUBE, "material": "6061-T6 extrusion"},
            {"name": "side", "points": [(0.1, 0.2), (0.5, 0.2)], "section": TUBE, "material": "6061-T6 extrusion",
             "mirror": True, "side": "below"},
        ],
    )  # fmt: skip


@pytest.fixture(scope="module")
def table(ribbed: sf.Splitter) -> pd.DataFrame:
    return sf.lose_one(ribbed, "air")


def test_every_part_is_lost_once(table: pd.DataFrame) -> None:
    kinds = dict(zip(table["lost"], table["kind"], strict=True))
    assert kinds == {
        **{f"bolt {i}": "bolt" for i in range(1, 5)},
        **dict.fromkeys(("round", "other", "third"), "pin"),
        **dict.fromkeys(("cross", "side left", "side right"), "rib joint"),
    }
    assert len(table) == len(kinds)


def test_one_of_three_supports_lost_names_the_motion() -> None:
    """Two supports on a line leave the motion about that line (statics)."""
    splitter = panel(bolts=bolts((0.05, 0.0), (0.55, -0.25), (0.55, 0.25)))
    found = by_name(sf.lose_one(splitter, "air"))
    outcome = found.loc["bolt 1", "outcome"]
    assert outcome.startswith("not held: ")
    assert "pitches about the crosswise axis" in outcome
    for name in ("bolt 2", "bolt 3"):
        assert found.loc[name, "outcome"].startswith("not held: ")
    lost = found.loc["bolt 1"]
    assert pd.isna(lost["touches_ground"])
    assert lost[["max_sag_mm", "min_clearance_mm", "worst_support_N"]].isna().all()
    assert found.index[:3].isin(["bolt 1", "bolt 2", "bolt 3"]).all()  # what is not held comes first
    assert "turns in plan" in found.loc["round", "outcome"]  # one pin alone


def test_redundant_design_is_held(table: pd.DataFrame) -> None:
    assert set(table["outcome"]) == {"held"}
    assert not table["touches_ground"].any()
    assert table["max_sag_mm"].is_monotonic_decreasing


def rebuilt(model: Model, design: sf.Splitter, unbonded: frozenset[str] = frozenset()) -> Model:
    """Another design on the mesh of a model, with everything but the mesh made anew."""
    ribs = tuple(
        model_ribs(model.panel, model.locator, design, model.sheet.base.thickness, unbonded=unbonded)
    )
    supports = tuple(model_supports(model.panel, model.locator, design))
    structure = Structure(
        model.panel,
        tuple(restraint for support in supports for restraint in support.restraints),
        contributions=tuple(part for rib in ribs for part in rib.operators.contributions),
        n_extra=sum(rib.operators.n_extra for rib in ribs),
    )
    return replace(
        model, design=design, ribs=ribs, supports=supports, structure=structure, unbonded=unbonded, _spares={}
    )


def redundant() -> sf.Splitter:
    """Every kind of support, none of them needed, pushed up and down, so that lips, a cable and a slack strut act."""
    joint = {"kind": "adhesive", "shear_modulus": 2e6, "thickness": 1e-3}
    tube = {"section": TUBE, "material": "6061-T6 extrusion"}
    return panel(
        bolts=bolts((0.3, -0.2), (0.35, 0.25)),
        pins=PINS,
        struts=[{"name": "strut", "mirror": True, "foot": (0.5, 0.2), "head": (0.45, 0.15, 0.3), "diameter": 0.008},
                {"name": "cable", "foot": (0.55, 0.0), "head": (0.5, 0.0, 0.3), "diameter": 0.003,
                 "tension_only": True, "preload": 30.0},
                {"name": "slack", "foot": (0.2, 0.2), "head": (0.2, 0.2, 0.3), "diameter": 0.003,
                 "tension_only": True, "slack": 0.1e-3}],
        pockets=[{"name": "pocket", "mirror": True, "mouth": (0.05, 0.2), "width": 0.1, "overlap": 0.04,
                  "clearance_up": 0.3e-3, "clearance_down": 0.3e-3}],
        ribs=[{"name": "cross", "points": [(0.42, -0.25), (0.42, 0.25)], **tube},
              {"name": "glued", "points": [(0.1, 0.1), (0.4, 0.1)], **tube, "joint": joint},
              {"name": "beside", "points": [(0.1, -0.1), (0.4, -0.1)], **tube, "joint": joint}],
        cases=[{"name": "air", "speed": 50.0, "pressure": {"kind": "uniform", "cp": 0.8},
                "forces": [{"kind": "point", "at": (0.5, -0.25), "force": (50.0, 80.0, 300.0)}]}],
    )  # fmt: skip


@pytest.mark.slow
def test_a_loss_is_as_if_built_without_on_the_same_mesh() -> None:
    """Every row of the table against supports, ribs and matrix made anew for that row alone, on the same mesh."""
    splitter = redundant()
    model = sf.build(splitter)
    found = by_name(sf.lose_one(model, "air"))
    assert len(found) == 2 + 3 + 4 + 2 + 3
    assert set(found["outcome"]) == {"held"}
    for name, row in found.iterrows():
        joint = row["kind"] == "rib joint"
        lost = frozenset({name}) if joint else frozenset[str]()
        solution = sf.solve(rebuilt(model, splitter if joint else splitter.without(name), lost), "air")
        assert row["max_sag_mm"] == pytest.approx(1e3 * solution.max_sag, rel=1e-8), name
        assert row["min_clearance_mm"] == pytest.approx(1e3 * solution.min_clearance, rel=1e-8), name
        forces = solution.supports.set_index("support")[["fx_N", "fy_N", "fz_N"]].pow(2).sum(axis=1).pow(0.5)
        assert row["worst_support"] == forces.idxmax(), name
        assert row["worst_support_N"] == pytest.approx(forces.max(), rel=1e-8), name


def test_responses_after_a_loss_are_those_of_the_parts_that_are_left() -> None:
    """Unknowns and every force, one by one; and losing two is the same in either order."""
    splitter = redundant()
    model = sf.build(splitter)
    for name in ("bolt 1", "third", "cable", "pocket left"):
        left = sf.solve(model.without_support(name), "air")
        anew = sf.solve(rebuilt(model, splitter.without(name)), "air")
        assert [s.name for s in left.model.supports] == [s.name for s in anew.model.supports]
        x, force = anew.response.x, anew.response.force
        assert left.response.x == pytest.approx(x, rel=0, abs=1e-8 * abs(x).max())
        assert left.response.force == pytest.approx(force, rel=0, abs=1e-8 * abs(force).max())
        assert (left.response.side == anew.response.side).all()
        pd.testing.assert_frame_equal(left.contacts, anew.contacts, rtol=1e-6, atol=1e-6)
    one, other = (
        sf.solve(model.without_support(a).without_support(b), "air").supports.set_index("support")["fz_N"]
        for a, b in (("bolt 1", "pocket left"), ("pocket left", "bolt 1"))
    )
    assert one.to_numpy() == pytest.approx(other.to_numpy(), rel=1e-8, abs=1e-8)
    assert not {"bolt 1", "pocket left"} & set(one.index)


def test_a_loss_hardly_depends_on_the_mesh() -> None:
    """A panel without the bolt on a mesh of its own: two meshes of 25 mm agree within 0.1 % where no ribs are."""
    fine = panel(pins=PINS, bolts=bolts(*CORNERS), mesh={"size": 0.025})
    lost = sf.solve(sf.build(fine).without_support("bolt 1"), "air")
    apart = sf.solve(fine.without("bolt 1"), "air")
    assert lost.model.panel.space.n_elements != apart.model.panel.space.n_elements
    assert lost.max_sag == pytest.approx(apart.max_sag, rel=1e-3)
    assert lost.min_clearance < 0.08 - 0.05  # so that the next line says something
    assert lost.min_clearance == pytest.approx(apart.min_clearance, rel=1e-2)
    forces = [s.supports.set_index("support")["fz_N"] for s in (lost, apart)]
    assert forces[0].to_numpy() == pytest.approx(forces[1].to_numpy(), rel=1e-3, abs=0.1)


def test_what_a_case_loses_anyway_stays_lost(ribbed: sf.Splitter, table: pd.DataFrame) -> None:
    """With both halves of the pair lost in the case, the row of the other rib is that of all three lost."""
    case = ribbed.case("air").with_(unbonded=["side"])
    found = by_name(sf.lose_one(ribbed, case))
    assert set(found.index) == set(table["lost"]) - {"side left", "side right"}
    all_lost = build(ribbed, unbonded=frozenset({"cross", "side left", "side right"}))
    assert found.loc["cross", "max_sag_mm"] == pytest.approx(
        1e3 * sf.solve(all_lost, "air").max_sag, rel=1e-8
    )
    assert found.loc["bolt 1", "max_sag_mm"] > by_name(table).loc["bolt 1", "max_sag_mm"]


def test_a_support_that_is_not_there_cannot_be_lost(ribbed: sf.Splitter) -> None:
    with pytest.raises(
        sf.DesignError, match="no support 'bolt 7' that could be lost; did you mean 'bolt"
    ) as caught:
        sf.build(ribbed).without_support("bolt 7")
    assert str(caught.value).endswith("?")


@pytest.mark.parametrize("rib", ["cross", "side left"])
def test_lost_joint_sags_more(ribbed: sf.Splitter, table: pd.DataFrame, rib: str) -> None:
    row = by_name(table).loc[rib]
    intact = sf.solve(ribbed, "air")
    apart = sf.solve(build(ribbed, unbonded=frozenset({rib})), "air")
    assert row["max_sag_mm"] > 1.02e3 * intact.max_sag
    assert row["max_sag_mm"] == pytest.approx(1e3 * apart.max_sag, rel=1e-9)


def test_notched_rib_is_lost_as_one(ribbed: sf.Splitter) -> None:
    other = {"name": "long", "points": [(0.1, 0.0), (0.5, 0.0)], "section": TUBE, "material": "6061-T6 extrusion",
             "crossing": "notched"}  # fmt: skip
    splitter = ribbed.with_(ribs=[ribbed.ribs[0], other])
    found = by_name(sf.lose_one(splitter, "air"))
    assert found.index[found["kind"] == "rib joint"].sort_values().tolist() == ["cross", "long"]
    both = sf.solve(build(splitter, unbonded=frozenset({"long"})), "air")
    assert found.loc["long", "max_sag_mm"] == pytest.approx(1e3 * both.max_sag, rel=1e-9)


def test_ground_that_is_touched_comes_before_what_is_held(ribbed: sf.Splitter, table: pd.DataFrame) -> None:
    """A ride height that two of the losses use up: those with the least clearance at the usual one."""
    gaps = table.sort_values("min_clearance_mm").reset_index()
    cut = 0.5e-3 * (gaps["min_clearance_mm"][1] + gaps["min_clearance_mm"][2])
    low = sf.lose_one(ribbed.with_(car={"ride_height": 0.08 - cut}), "air")
    assert low["touches_ground"].tolist() == [True] * 2 + [False] * (len(low) - 2)
    assert set(low["lost"][:2]) == set(gaps["lost"][:2])
    assert low["outcome"].tolist() == ["touches the ground"] * 2 + ["held"] * (len(low) - 2)


def test_judge_sees_each_solution_and_orders(table: pd.DataFrame) -> None:
    splitter = panel(bolts=bolts(*CORNERS), pins=PINS)

    def judge(solution: Any) -> float | None:
        assert isinstance(solution, sf.Solution)
        names = {support.name for support in solution.model.supports}
        assert names == {part.name for part in (*solution.model.design.bolts, *solution.model.design.pins)}
        return None if "round" not in names else 1.0 / (1e3 * solution.max_sag)

    found = sf.lose_one(splitter, "air", judge=judge)
    assert set(found["lost"]) == {"bolt 1", "bolt 2", "bolt 3", "bolt 4", "round", "other", "third"}
    assert table["worst_ratio"].isna().all()  # without a judge
    judged = found["worst_ratio"].dropna()
    assert judged.to_numpy() == pytest.approx(1.0 / found.loc[judged.index, "max_sag_mm"].to_numpy())
    assert judged.is_monotonic_decreasing
    assert len(judged) == 6
    assert found["lost"].iloc[-1] == "round"  # what cannot be judged comes last


def test_struts_and_pockets_are_lost_by_halves() -> None:
    """Halves by themselves; design and load are symmetric, so that they fare alike."""
    splitter = panel(
        struts=[{"name": "strut", "mirror": True, "foot": (0.5, 0.2), "head": (0.45, 0.2, 0.3), "diameter": 0.008},
                {"name": "middle", "foot": (0.5, 0.0), "head": (0.45, 0.0, 0.3), "diameter": 0.008}],
        pockets=[{"name": "pocket", "mirror": True, "mouth": (0.05, 0.2), "width": 0.1, "overlap": 0.04}],
    )  # fmt: skip
    found = by_name(sf.lose_one(splitter, "air"))
    assert found["kind"].value_counts().to_dict() == {"strut": 3, "pin": 2, "rear pocket": 2}
    for part in ("strut", "pocket"):
        left, right = found.loc[f"{part} left"], found.loc[f"{part} right"]
        assert left["outcome"] == right["outcome"] == "held"
        assert left["max_sag_mm"] == pytest.approx(right["max_sag_mm"], rel=2e-2)
        assert left["y_mm"] == pytest.approx(-right["y_mm"], abs=20.0)
        assert left["y_mm"] > 100.0  # it sags where the support is missing
        assert left["worst_support"] != f"{part} left"


def test_an_unknown_case_is_named(ribbed: sf.Splitter) -> None:
    with pytest.raises(sf.DesignError, match="air"):
        sf.lose_one(ribbed, "aero")
