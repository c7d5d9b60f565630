"""What leaves the library: pictures, exports, headline figures and the report."""

from __future__ import annotations
