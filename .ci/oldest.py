"""Print a constraints file with the lower bound of every dependency of the package and its tests."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

project = tomllib.loads(Path("pyproject.toml").read_text(encoding="utf-8"))["project"]
wanted = [
    *project["dependencies"],
    *project["optional-dependencies"]["report"],
    *project["optional-dependencies"]["dxf"],
]
for requirement in wanted:
    match = re.fullmatch(r"([A-Za-z0-9_.-]+)>=([0-9.]+)", requirement)
    if match:
        print(f"{match[1]}=={match[2]}")
