"""What a panel has worked out of its shape is not taken along when the shape changes."""

import pytest

from splitterfem.design import Outline, Panel


def test_a_copy_with_another_outline_looks_again():
    panel = Panel.model_validate(
        {
            "outline": Outline.rectangle(0.0, 1.0, 0.0, 1.0),
            "sheet": {"material": "birch plywood 12 mm", "thickness": "12 mm"},
        }
    )
    assert panel.polygon().area == pytest.approx(1.0)
    assert panel.polygon() is panel.polygon()
    half = panel.model_copy(update={"outline": Outline.rectangle(0.0, 1.0, 0.0, 0.5)})
    assert half.polygon().area == pytest.approx(0.5)
    outline = panel.outline.model_copy(update={"start": (0.2, 0.0)})
    assert outline.loop() != panel.outline.loop()
