"""Reader of comma-separated values for tests: the table, and what its file says that it was made of."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pandas as pd

MADE_BY = re.compile(r"splitterfem \d+\.\d+\.\d+, input [0-9a-f]{12}(; .+)?")


def table_of(place: Path, **options: Any) -> pd.DataFrame:
    """Read a table without its last column, after a look at that."""
    table = pd.read_csv(place, **options)
    assert table.columns[-1] == "made_by"
    if len(table):
        assert MADE_BY.fullmatch(table["made_by"].iloc[0])
        assert table["made_by"].iloc[1:].isna().all()
    return table.drop(columns="made_by")
