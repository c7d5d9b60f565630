"""The face of the library for many layouts: ``splitterfem.study``.

Questions, each a function:

``sweep``
    All combinations of the values of one, two or more parameters; ``parameter`` gives a parameter a name of its own.
``search``
    Good layouts within limits, and the front of several objectives.
``scatter``
    How figures scatter when materials, joints and loads do, and what matters.
``screen``
    The best of thousands of layouts of ribs and struts.
``fit_flex_test``
    Moduli, joints and supports with which a splitter gives as measured on the bench; ``demo_flex_test`` is an invented
    file of one, ``FlexReadings`` its contents.
``read``
    A sweep or search again from its file.

Their answers are :class:`Study` (a sweep), :class:`Search`, :class:`Scatter`, :class:`Screening` and
:class:`FlexTest`; a :class:`Parameter` is what a sweep or a search changes.
"""

from __future__ import annotations

from splitterfem.api_study_flextest import FlexTest, demo_flex_test, fit_flex_test
from splitterfem.api_study_scatter import Scatter, scatter
from splitterfem.api_study_screen import Screening, screen
from splitterfem.api_study_search import Search, read, search
from splitterfem.api_study_sweeps import Study, parameter, sweep
from splitterfem.layouts.flextest_parameters import Fit
from splitterfem.layouts.flextest_readings import FlexReadings
from splitterfem.layouts.parameters import Parameter

__all__ = [
    "Fit",
    "FlexReadings",
    "FlexTest",
    "Parameter",
    "Scatter",
    "Screening",
    "Search",
    "Study",
    "demo_flex_test",
    "fit_flex_test",
    "parameter",
    "read",
    "scatter",
    "screen",
    "search",
    "sweep",
]
