"""What the benchmarks ran on and when."""

from __future__ import annotations

import os
import platform
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

PACKAGES = (
    "splitterfem",
    "numpy",
    "scipy",
    "scikit-fem",
    "netgen-mesher",
    "ngsolve",
    "pypardiso",
    "joblib",
    "distributed",
)


def processor() -> str:
    """Architecture of the processor, and the widest vectors that it says it has; not who made it."""
    known = Path("/proc/cpuinfo")
    words = set(known.read_text(encoding="utf-8", errors="replace").split()) if known.exists() else set()
    widest = next((name for name in ("avx512f", "avx2", "asimd") if name in words), "")
    return f"{platform.machine()} with {widest}" if widest else platform.machine()


def cores() -> int:
    """Count the cores that this process may use."""
    affinity = getattr(os, "sched_getaffinity", None)
    return len(affinity(0)) if affinity is not None else os.cpu_count() or 1


def versions() -> dict[str, str]:
    """Versions of what counts for speed; those that are not installed are left out."""
    found = {"Python": platform.python_version()}
    for name in PACKAGES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            continue
    return found


def all_cores() -> dict[str, str]:
    """Environment of a process that may use all cores, as its user's does; the command keeps itself to one thread."""
    return {name: value for name, value in os.environ.items() if not name.endswith("_NUM_THREADS")}


def load() -> float | None:
    """Tell how many processes wanted to run in the last minute, on the mean; None where the system does not tell."""
    return os.getloadavg()[0] if hasattr(os, "getloadavg") else None


def described() -> dict[str, object]:
    """Everything about the machine and the time, without names of machine or user."""
    return {
        "date": datetime.now(UTC).strftime("%Y-%m-%d"),
        "processor": processor(),
        "cores": cores(),
        "system": platform.system(),
        "load_before": load(),
        "versions": versions(),
    }
