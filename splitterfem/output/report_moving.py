"""Sections of a report on what a splitter does besides its load cases: it vibrates, buckles, and is driven faster."""

from __future__ import annotations

from splitterfem.output.report_blocks import (
    PLAN,
    Block,
    Contents,
    bullets,
    paragraph,
    pictures,
    section,
    table,
)


def vibration_sections(data: Contents) -> list[Block]:
    """Natural frequencies, if they were asked for."""
    found = data["vibration"]
    if found is None:
        return []
    return section(
        "Natural frequencies",
        paragraph(found["intro"]),
        table(found["table"], left=()),
        table(found["ranges"], left=(0,)),
        pictures([(found["chart"], "", "Natural frequencies over what may shake the panel")]),
        pictures([(found["shapes"], "", f"Shapes of natural vibrations {PLAN}")]),
        bullets(found["notes"]),
    )


def buckling_sections(data: Contents) -> list[Block]:
    """Buckling factors, if they were asked for."""
    found = data["buckling"]
    if found is None:
        return []
    shapes = [
        pictures([(p["file"], "", f"Shapes of buckling {PLAN}")], title=p["title"]) for p in found["pictures"]
    ]
    return section(
        "Buckling",
        paragraph(found["intro"]),
        [paragraph(line, "alarm") for line in found["verdict"]],
        table(found["table"], left=(0,)),
        shapes,
        bullets(found["notes"]),
        paragraph(found["caution"], "strong"),
    )


def speed_sections(data: Contents) -> list[Block]:
    """Sweeps over speed, if they were asked for."""
    blocks: list[Block] = []
    for sweep in data["speed"]:
        last = len(sweep["table"]["headings"]) - 1
        wordy = any(len(row[-1]) > 24 for row in sweep["table"]["rows"])
        blocks += [
            paragraph(sweep["title"], "strong"),
            paragraph(sweep["verdict"], "alarm" if sweep["bad"] else "strong"),
            *table(sweep["table"], left=(last,), wide={last: 1.0} if wordy else None),
            pictures(
                [(sweep["picture"], "", "Sag, gap to the ground, downforce and utilisation over speed")]
            ),
            *bullets(sweep["notes"]),
            *([paragraph(sweep["caution"], "strong")] if sweep["caution"] else []),
        ]
    return section("At speed", blocks)
