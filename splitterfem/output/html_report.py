"""A report as one HTML file: no scripts, no addresses, every picture in it, every text escaped."""

from __future__ import annotations

import base64
import html
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from splitterfem.output.html_style import PRINT, STYLE
from splitterfem.output.report_blocks import Block

Pictures = Mapping[str, bytes]

POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"
"""What a browser may load for it: nothing but what is in it (W3C, Content Security Policy Level 3)."""


def page(document: Mapping[str, Any], pictures: Pictures) -> str:
    """Return a report as HTML.

    Parameters
    ----------
    document : mapping
        Of `splitterfem.output.report_document.document`.
    pictures : mapping of str to bytes
        SVG by the names that the document has for them.
    """
    body = "".join(_block(block, pictures) for block in document["summary"])
    body += "".join(_section(part, pictures) for part in document["sections"])
    return (
        f'<!DOCTYPE html>\n<html lang="{_text(document["lang"])}">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{_text(POLICY)}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f'<meta name="generator" content="{_text(_made_by(document))}">\n'
        f"<title>{_text(document['title'])}</title>\n<style>{STYLE}{PRINT % _paper(document)}</style>\n</head>\n"
        f"<body>\n{_header(document)}<main>\n{body}</main>\n<footer>{_text(document['footer'])}</footer>\n"
        "</body>\n</html>\n"
    )


def _text(value: object) -> str:
    """Escape a text for use between tags and between quotes."""
    return html.escape(str(value), quote=True)


def _made_by(document: Mapping[str, Any]) -> str:
    return f"splitterfem {document['version']}, input {document['fingerprint']}"


def _paper(document: Mapping[str, Any]) -> dict[str, object]:
    drawings = (b for part in document["sections"] for b in part["blocks"] if b["kind"] == "drawing")
    sizes = next(
        ({"width": b["width_mm"], "height": b["height_mm"]} for b in drawings), {"width": 0, "height": 0}
    )
    return {"paper": {"a4": "A4", "letter": "letter"}[document["paper"]], **sizes}


def _header(document: Mapping[str, Any]) -> str:
    invented = ' <span class="badge invented">INVENTED DATA</span>' if document["invented"] else ""
    pairs = "".join(
        f"<div><dt>{_text(what)}</dt><dd>{_text(who)}</dd></div>" for what, who in document["names"]
    )
    names = f'<dl class="names">{pairs}</dl>' if pairs else ""
    return (
        f'<header><div class="line"><span>REPORT</span><span>{_text(document["date"])}</span></div>'
        f"<h1>{_text(document['title'])}{invented}</h1>"
        f'<div class="quiet small">{_text(document["subject"])}</div>{names}</header>\n'
    )


def _section(part: Mapping[str, Any], pictures: Pictures) -> str:
    blocks = "".join(_block(block, pictures) for block in part["blocks"])
    kind = f' class="{part["page"]}"' if part["page"] else ""
    return f"<section{kind}><h2>{_text(part['title'])}</h2>\n{blocks}</section>\n"


def _block(block: Block, pictures: Pictures) -> str:
    return _WRITERS[block["kind"]](block, pictures) + "\n"


def _paragraph(block: Block, _: Pictures) -> str:
    return f'<p class="{block["tone"]}">{_text(block["text"])}</p>'


def _list(block: Block, _: Pictures) -> str:
    tag = "ol" if block["numbered"] else "ul"
    look = ' class="small"' if block["small"] else ""
    return f"<{tag}{look}>{''.join(f'<li>{_text(line)}</li>' for line in block['lines'])}</{tag}>"


def _heading(block: Block, _: Pictures) -> str:
    return f"<h3>{_text(block['text'])}</h3>"


def _verdict(block: Block, _: Pictures) -> str:
    lines = "".join(f"<p>{_text(line)}</p>" for line in (block["text"], *block["lines"]))
    return f'<div class="verdict {block["tone"]}">{lines}</div>'


def _cards(block: Block, _: Pictures) -> str:
    cards = "".join(
        f"<div><span>{_text(item['label'])}</span><b{_alarm(item['alarm'])}>{_text(item['value'])}</b>"
        f"<span>{_text(item['detail'])}</span></div>"
        for item in block["items"]
    )
    return f'<div class="cards">{cards}</div>'


def _alarm(wanted: bool) -> str:
    return ' class="alarm"' if wanted else ""


def _facts(block: Block, _: Pictures) -> str:
    rows = "".join(f"<dt>{_text(what)}</dt><dd>{_text(value)}</dd>" for what, value in block["rows"])
    return f'<dl class="facts">{rows}</dl>'


def _answers(block: Block, _: Pictures) -> str:
    head = "".join(f"<th>{_text(heading)}</th>" for heading in block["headings"])
    rows = "".join(
        f"<tr>{''.join(f'<td>{_text(cell)}</td>' for cell in row[:-1])}<td>{_badge(row[-1])}</td></tr>"
        for row in block["rows"]
    )
    return f'<table class="answers"><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>'


def _badge(verdict: str) -> str:
    return f'<span class="badge {_text(verdict)}">{_text(verdict)}</span>' if verdict else ""


def _table(block: Block, _: Pictures) -> str:
    looks = [_look(column, block) for column in range(len(block["headings"]))]
    rows, last = block["rows"], len(block["rows"]) - block["sums"]
    head = _cells("th", block["headings"], looks)
    body = "".join(
        f"<tr{_row_look(i in block['alarms'], i >= last)}>{_cells('td', row, looks)}</tr>"
        for i, row in enumerate(rows)
    )
    return f'<div class="scroll"><table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>'


def _look(column: int, block: Block) -> str:
    words = ["words"] if column in block["left"] else []
    wide = ["wide"] if block["widths"][column] else []
    return f' class="{" ".join(words + wide)}"' if words or wide else ""


def _row_look(alarm: bool, total: bool) -> str:
    return ' class="alarm"' if alarm else ' class="sum"' if total else ""


def _cells(tag: str, cells: Sequence[str], looks: Sequence[str]) -> str:
    return "".join(f"<{tag}{look}>{_text(cell)}</{tag}>" for cell, look in zip(cells, looks, strict=True))


def _pictures(block: Block, pictures: Pictures) -> str:
    title = f'<div class="over">{_text(block["title"])}</div>' if block["title"] else ""
    words = f'<div class="over small">{_text(block["words"])}</div>' if block["words"] else ""
    shown = "".join(
        f"<figure>{_caption(item['caption'])}{_image(item, pictures)}</figure>" for item in block["items"]
    )
    return f'<div class="pictures {"two" if block["across"] > 1 else "one"}">{title}{words}{shown}</div>'


def _caption(text: str) -> str:
    return f"<figcaption>{_text(text)}</figcaption>" if text else ""


def _image(item: Block, pictures: Pictures) -> str:
    data = base64.b64encode(pictures[item["file"]]).decode("ascii")
    return f'<img alt="{_text(item["alt"])}" src="data:image/svg+xml;base64,{data}">'


def _drawing(block: Block, pictures: Pictures) -> str:
    fields = "".join(
        f"<div><span>{_text(label)}</span>{_text(value)}</div>" for label, value in block["fields"]
    )
    return f'<div class="sheet">{_image(block, pictures)}</div><div class="fields">{fields}</div>'


_WRITERS: dict[str, Callable[[Block, Pictures], str]] = {
    "paragraph": _paragraph,
    "list": _list,
    "heading": _heading,
    "verdict": _verdict,
    "cards": _cards,
    "facts": _facts,
    "answers": _answers,
    "table": _table,
    "pictures": _pictures,
    "drawing": _drawing,
}
