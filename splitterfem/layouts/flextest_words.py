"""A fitted flex test as tables and sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from splitterfem.layouts.flextest_statistics import ALIKE, COVERED, WIDEST

if TYPE_CHECKING:
    from splitterfem.layouts.flextest import FlexTest

MM = 1e3

BENT = 0.1
"""Departure of a profile from a parabola from which it is told."""


def table(test: FlexTest) -> pd.DataFrame:
    """Fitted figures.

    Columns: figure, value, unit, standard_uncertainty (of the same unit), low_95, high_95 (ends of the 95 % interval),
    start (in the design before), ratio (fitted over start), what.  Where no reading feels a figure its uncertainty is
    inf and its value that of the start.
    """
    found, rows = test.estimate, []
    ends = found.interval
    for i, parameter in enumerate(test.parameters):
        per, start = parameter.per_unit, parameter.start
        factor = float(np.exp(found.logs[i]))
        value = start * factor / per
        low, high = (start * _factor(float(end)) / per for end in ends[i])
        rows.append(
            {
                "figure": parameter.name,
                "value": value,
                "unit": parameter.unit,
                "standard_uncertainty": value * float(found.errors[i]),
                "low_95": low,
                "high_95": high,
                "start": start / per,
                "ratio": factor,
                "what": parameter.words,
            }
        )
    return pd.DataFrame(rows)


def _factor(log: float) -> float:
    """Turn the logarithm of a factor into it; what is beyond all bounds of the search is nothing or without end."""
    if abs(log) > WIDEST:
        return 0.0 if log < 0.0 else float("inf")
    return float(np.exp(log))


def residuals(test: FlexTest) -> pd.DataFrame:
    """Every reading beside what is computed.

    Columns: line (of the file), push_x_mm, push_y_mm, force_N, read_x_mm, read_y_mm, measured_mm, computed_mm,
    before_mm (with the design as it was), residual_mm (measured less computed), studentised (the residual over its
    standard deviation from a fit without the reading), suspicious; uncertainty_mm where it is known.
    """
    r, found = test.readings, test.estimate
    columns: dict[str, object] = {
        "line": r.line,
        "push_x_mm": MM * r.push[:, 0],
        "push_y_mm": MM * r.push[:, 1],
        "force_N": r.force,
        "read_x_mm": MM * r.read[:, 0],
        "read_y_mm": MM * r.read[:, 1],
        "measured_mm": MM * r.deflection,
        "computed_mm": MM * test.computed,
        "before_mm": MM * test.start,
        "residual_mm": MM * test.residuals_in_m,
        "studentised": found.deleted,
        "suspicious": found.suspicious,
    }
    if r.uncertainty is not None:
        columns["uncertainty_mm"] = MM * r.uncertainty
    return pd.DataFrame(columns)


WEAK = 0.5
"""Standard uncertainty of a logarithm from which a figure is hardly known: a factor of 2.7 either way at 95 %."""


def figures(value: float, error: float) -> tuple[str, str]:
    """Write a value and its uncertainty, this with two figures and the value to the same place.

    Examples
    --------
    >>> figures(8.97531, 0.0421), figures(1534.2, 87.3), figures(2000.0, float("inf"))
    (('8.975', '0.042'), ('1534', '87'), ('2e+03', 'inf'))
    """
    if not (np.isfinite(error) and error > 0.0) or not np.isfinite(value):
        return f"{value:.3g}", f"{error:.2g}"
    places = max(0, 1 - int(np.floor(np.log10(error))))
    return f"{value:.{places}f}", f"{error:.{places}f}"


def short_values(test: FlexTest) -> str:
    """Fitted figures with their standard uncertainties, one after the other."""
    said = []
    for row in test.table.to_dict("records"):
        value, error = figures(float(row["value"]), float(row["standard_uncertainty"]))
        unit = "" if row["unit"] == "-" else f" {row['unit']}"
        said.append(f"{row['figure']} {value} ± {error}{unit}")
    return ", ".join(said)


def line(test: FlexTest) -> str:
    """Write splitter, file and every fitted figure on one line."""
    head = f"Flex test of '{test.splitter.name}', {len(test.readings)} readings of {test.readings.name}"
    return f"{head}: {short_values(test)}"


def notes(test: FlexTest) -> tuple[str, ...]:
    """Say how well it fits, what the readings cannot tell, and which of them look wrong."""
    return (*_fit(test), *_unfelt(test), *_alike(test), *_bent(test), *_suspicious(test))


def _fit(test: FlexTest) -> list[str]:
    found, before = test.estimate, test.readings.deflection - test.start
    spread = (
        f"Residuals have a standard deviation of {MM * test.deviation:.2g} mm; with the figures of the design as it "
        f"was, readings missed by {MM * float(np.sqrt(np.mean(before**2))):.2g} mm."
    )
    if found.freedom < 1:
        return ["There are as many figures as readings, so that nothing tests the fit."]
    if not found.known:
        return [spread, "The uncertainty of the readings is not stated and is taken from the residuals."]
    chi = f"Chi-square is {found.chi_square:.1f} for {found.freedom} degrees of freedom"
    if found.widened:
        return [
            spread,
            f"{chi}, which the stated uncertainties do not explain (probability {found.probability:.1g}): readings are "
            "worse than stated, or the model lacks something; all uncertainties are widened by "
            f"{np.sqrt(found.variance):.2f} (Birge's ratio, from memory).",
        ]
    return [spread, f"{chi}, as the stated uncertainties have it (probability {found.probability:.2f})."]


def _unfelt(test: FlexTest) -> list[str]:
    return [
        f"No reading feels '{parameter.name}', so that it stays as it was: push where it carries, or do not fit it."
        for parameter, felt in zip(test.parameters, test.estimate.felt, strict=True)
        if not felt
    ] + [
        f"The readings hardly feel '{parameter.name}': its value is a guess, so leave it out of the fit, or push where "
        "it matters."
        for parameter, error in zip(test.parameters, test.estimate.errors, strict=True)
        if WEAK < error < np.inf
    ]


def _alike(test: FlexTest) -> list[str]:
    said, names = [], [f"'{parameter.name}'" for parameter in test.parameters]
    force = float(np.median(np.abs(test.readings.force)))
    for group, advice in test.advice:
        listed = ", ".join(names[i] for i in group[:-1]) + f" and {names[group[-1]]}"
        r = test.estimate.correlation[group[0], group[1]] if len(group) == 2 else float("nan")
        how = f" (correlation {r:.3f})" if len(group) == 2 and abs(r) > ALIKE else ""
        more = "" if advice is None else f" {advice.sentence(force)}"
        said.append(
            f"The readings cannot tell {listed} apart{how}: only their joint effect is known well.{more}"
        )
    return said


def _bent(test: FlexTest) -> list[str]:
    return [
        f"The interval of '{parameter.name}' follows a sum of squares that is no parabola (off by {100 * bent:.0f} % "
        "at its ends): take it as rough."
        for parameter, bent in zip(test.parameters, test.estimate.bent, strict=True)
        if bent > BENT
    ]


def _suspicious(test: FlexTest) -> list[str]:
    table = test.residuals
    return [
        f"The reading on line {row['line']} of {test.readings.name} looks wrong: {row['measured_mm']:.2f} mm measured, "
        f"{row['computed_mm']:.2f} mm computed at x {row['read_x_mm']:.0f}, y {row['read_y_mm']:.0f} mm under the push "
        f"at x {row['push_x_mm']:.0f}, y {row['push_y_mm']:.0f} mm; chance lets one of {len(table)} readings be so far "
        f"off in one test of {round(1.0 / (1.0 - COVERED))}. Read it again, or leave it out (leave_out = "
        f"[{row['line']}])."
        for row in table[table["suspicious"]].to_dict("records")
    ]
