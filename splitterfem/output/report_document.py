"""A report as sections of blocks, from its contents: the one order and choice of words for all renderers."""

from __future__ import annotations

from typing import Any

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
from splitterfem.output.report_moving import buckling_sections, speed_sections, vibration_sections


def document(data: Contents) -> dict[str, Any]:
    """Arrange the contents of a report.

    Parameters
    ----------
    data : mapping
        Of `splitterfem.output.report_data.report_data`.

    Returns
    -------
    dict
        ``head`` (title, names, date and such), ``summary`` (blocks of the first page) and ``sections``.
    """
    head = ("title", "subject", "invented", "date", "version", "fingerprint", "paper", "names", "footer")
    return {
        **{key: data[key] for key in head},
        "lang": "en",
        "summary": _summary(data),
        "sections": [
            *_drawing(data),
            *_built(data),
            *_asked(data),
            *_air(data),
            *_outcome(data),
            *_strength(data),
            *_losses(data),
            *_limits(data),
            *vibration_sections(data),
            *buckling_sections(data),
            *speed_sections(data),
            *_forces(data),
            *_bill(data),
            *_basis(data),
        ],
    }


def _summary(data: Contents) -> list[Block]:
    """Blocks of the first page."""
    said = data["summary"]
    return [
        *([paragraph(data["note"])] if data["note"] else []),
        {"kind": "verdict", "text": said["verdict"], "tone": said["tone"], "lines": said["sentences"]},
        {"kind": "cards", "items": data["headline"]},
        {"kind": "heading", "text": "What was asked, and what came out"},
        {"kind": "answers", "headings": ["question", "answer", "limit", ""], "rows": said["answers"]},
        {"kind": "heading", "text": "What to do"},
        *bullets(said["actions"], numbered=True, small=False),
        paragraph(data["short_caution"], "strong"),
        pictures(
            [
                ("worst-sag.svg", data["worst_pictures"][0], f"Contours of sag {PLAN}"),
                (
                    "worst-clearance.svg",
                    data["worst_pictures"][1],
                    f"Contours of the gap to the ground {PLAN}",
                ),
            ],
            across=2,
            fill=True,
        ),
    ]


def _drawing(data: Contents) -> list[Block]:
    sheet = data["sheet"]
    picture = {"kind": "drawing", "file": "drawing.svg", "alt": f"Drawing of the splitter {PLAN}", **sheet}
    return section("Drawing", picture, bullets(sheet["notes"]), page="drawing")


def _built(data: Contents) -> list[Block]:
    return [
        *section(
            "What is built",
            {"kind": "facts", "rows": data["design"]},
            table(data["places"], left=(0, 1, 4)),
            paragraph(
                "x is measured from the front axle line forward, y from the centre line to the left.", "small"
            ),
        ),
        *section("How the drawing was read", bullets(data["drawing"])),
    ]


def _asked(data: Contents) -> list[Block]:
    return section(
        "What is asked of it",
        paragraph(data["asked"]),
        table(data["cases"], left=(0, 1, 4), wide={1: 1.0, 4: 1.4}),
        bullets(data["case_notes"]),
    )


def _air(data: Contents) -> list[Block]:
    air = data["air"]
    if air is None:
        return []
    shown = [
        (p["file"], f"{p['title']}: {p['total']}", f"Contours of net pressure {PLAN}")
        for p in data["pressures"]
    ]
    rows = [pictures(shown[i : i + 2], across=2) for i in range(0, len(shown), 2)]
    return section(
        "What the air does",
        table(air["table"], left=(0, 1), wide={1: 1.0}),
        rows,
        [paragraph(data["pressure_key"], "small")] if shown else [],
        bullets(air["notes"]),
    )


def _outcome(data: Contents) -> list[Block]:
    return [
        *section(
            "What comes out",
            table(data["results"], left=(0, 1, 6, 7), wide={1: 1.0}),
            [paragraph(line, "alarm") for line in data["range"]["warnings"]],
            [] if data["followed"] is None else table(data["followed"], left=(0, 1), wide={1: 1.0}),
            bullets(data["range"]["notes"]),
        ),
        *section("Sag and gap to the ground, load case by load case", _case_pictures(data)),
        *_contacts(data),
    ]


def _case_pictures(data: Contents) -> list[Block]:
    found = [
        pictures(
            [
                (picture["sag"], picture["sag_words"], f"Contours of sag {PLAN}"),
                (
                    picture["clearance"],
                    picture["clearance_words"],
                    f"Contours of the gap to the ground {PLAN}",
                ),
            ],
            title=picture["title"],
            across=2,
        )
        for picture in data["pictures"]
    ]
    keys = [key for key in (data["pictured"], data["marks"]) if key]
    return [*[paragraph(key, "small") for key in keys], *found]


def _contacts(data: Contents) -> list[Block]:
    contacts = data["contacts"]
    if contacts is None:
        return []
    tables = [block for part in contacts["tables"] for block in table(part, left=(0, 1))]
    return section(
        "What touches",
        [paragraph(line, "alarm") for line in contacts["ground"]],
        tables,
        paragraph(contacts["friction"], "small"),
    )


def _strength(data: Contents) -> list[Block]:
    strength = data["strength"]
    bad = strength["overloaded"]
    weakest = [
        paragraph(line, ("alarm" if bad and i != 1 else "strong" if i == 0 else "plain"))
        for i, line in enumerate(strength["weakest"])
    ]
    return [
        *section(
            "What is used most",
            weakest,
            table(strength["table"], left=(0, 1, 7), wide={0: 1.4, 1: 2.0}),
            [paragraph(strength["more"], "small")] if strength["more"] else [],
            bullets(strength["sources"], numbered=True),
            bullets(strength["notes"]) if strength["table"]["rows"] else [],
        ),
        *section("What was not judged", bullets(strength["unjudged"])),
    ]


def _losses(data: Contents) -> list[Block]:
    losses = data["losses"]
    if losses is None:
        return []
    wordy = any(len(row[-1]) > 24 for row in losses["table"]["rows"])
    return section(
        "What if one part is lost",
        paragraph(losses["intro"]),
        paragraph(losses["verdict"], "alarm" if losses["bad"] else "strong"),
        table(losses["table"], left=(0, 1, 4, 7), wide={0: 1.0, 7: 1.6} if wordy else None),
        bullets([line for line in (losses["more"], losses["note"]) if line]),
    )


def _limits(data: Contents) -> list[Block]:
    envelope = data["envelope"]
    if envelope is None:
        return section("Limits of a rulebook", paragraph(data["no_envelope"]))
    tones = ["alarm" if envelope["bad"] else "strong", *["plain"] * (len(envelope["verdict"]) - 1)]
    return section(
        "Limits of a rulebook, as the user gave them",
        [paragraph(line, tone) for line, tone in zip(envelope["verdict"], tones, strict=True)],  # type: ignore[arg-type]
        pictures([(envelope["picture"], "", f"Panel, bodywork and limits {PLAN}")]),
        table(envelope["table"], left=(0, 3)),
        bullets(envelope["how"]),
        paragraph(envelope["caution"], "strong"),
    )


def _forces(data: Contents) -> list[Block]:
    supports = [block for part in data["supports"] for block in table(part, left=(0, 1, 3))]
    more = [paragraph(data["worst"]["more"], "small")] if data["worst"]["more"] else []
    return [
        *section("What the supports carry", supports),
        *section(
            "What the ribs carry, each in its worst load case",
            table(data["ribs"], left=(0, 1), wide={0: 1.0, 1: 2.0}),
        ),
        *section(
            "Worst over all load cases",
            table(data["worst"]["table"], left=(0, 1, 3, 4)),
            more,
        ),
    ]


def _bill(data: Contents) -> list[Block]:
    wide = {0: 1.2, 1: 1.2, **({7: 2.2} if len(data["bill"]["headings"]) > 6 else {})}
    return section(
        "What is built, by weight and cost",
        table(data["bill"], left=(0, 1, 7), wide=wide, sums=data["bill_sums"]),
        bullets(data["bill_notes"]),
    )


def _basis(data: Contents) -> list[Block]:
    return [
        *section("What this rests on", bullets([*data["assumptions"], data["checks"]])),
        *section("What to beware of", bullets(data["cautions"])),
        *section("Where this comes from", {"kind": "facts", "rows": data["origin"]}),
    ]
