"""A sheet as a web page that stands alone, black on white, and prints with its header on the first page."""

from html import escape

from rackwright.papers.document import (
    Block,
    Contents,
    Drawing,
    Header,
    Label,
    Labels,
    PageBreak,
    Sheet,
    Table,
    Words,
)
from rackwright.papers.svg import as_svg

_STYLE = """
body { font: 12pt/1.35 sans-serif; color: #000; background: #fff; margin: 1.5em; }
header { border-bottom: 2px solid #000; margin-bottom: 1em; }
h1 { margin: 0; font-size: 1.6em; }
h2 { font-size: 1.15em; margin: 1.2em 0 .3em; break-after: avoid; }
table { border-collapse: collapse; }
th, td { border: 1px solid #000; padding: .25em .5em; text-align: left; vertical-align: top; }
th.n, td.n { text-align: right; }
td.w { min-width: 4em; height: 1.6em; }
tr { break-inside: avoid; }
thead { display: table-header-group; }
p.caution { border: 2px solid #000; padding: .3em .6em; font-weight: bold; }
.labels { display: grid; grid-template-columns: repeat(3, 1fr); }
.labels div { border: 1px dashed #000; padding: .5em; break-inside: avoid; }
.labels b { font-size: 1.5em; }
.drawing svg { display: block; break-inside: avoid; }
hr.page { border: 0; break-after: page; }
""".strip()


FIGURE, WRITTEN = ' class="n"', ' class="w"'


def as_html(sheet: Sheet, header: Header) -> str:
    """The sheet as the text of an HTML file."""
    body = "\n".join(_block(block, header.revision) for block in sheet.blocks)
    return (
        f'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f"<title>{escape(sheet.title)}: {escape(header.rig)}</title>\n<style>\n{_STYLE}\n</style>\n</head>\n<body>\n"
        f"<header><h1>{escape(sheet.title)}</h1><p>{escape(header.words)}</p></header>\n{body}\n</body>\n</html>\n"
    )


def _block(block: Block, revision: str) -> str:
    if isinstance(block, Words):
        opening = '<p class="caution">' if block.caution else "<p>"
        return f"{opening}{escape(block.text)}</p>"
    if isinstance(block, Contents):
        return ""
    if isinstance(block, PageBreak):
        return '<hr class="page">'
    if isinstance(block, Drawing):
        return f'<div class="drawing">\n{as_svg(block.strips)}\n</div>'
    if isinstance(block, Labels):
        return f'<div class="labels">\n{"".join(_label(label, revision) for label in block.labels)}</div>'
    return _table(block)


def _label(label: Label, revision: str) -> str:
    rest = "".join(f"<br>{escape(line)}" for line in (*label.lines, f"revision {revision}"))
    return f"<div><b>{escape(label.name)}</b> {escape(label.end)}<br><strong>{escape(label.place)}</strong>{rest}</div>\n"


def _table(table: Table) -> str:
    kinds = [FIGURE if h in table.right else WRITTEN if h in table.written else "" for h in table.heads]
    heads = _cells("th", table.heads, kinds)
    rows = "\n".join(_cells("td", row, kinds) for row in table.rows)
    heading = f"<h2>{escape(table.heading)}</h2>\n" if table.heading else ""
    return f"{heading}<table>\n<thead>{heads}</thead>\n<tbody>\n{rows}\n</tbody>\n</table>"


def _cells(tag: str, cells: tuple[str, ...], kinds: list[str]) -> str:
    shown = (f"<{tag}{kind}>{escape(cell)}</{tag}>" for cell, kind in zip(cells, kinds, strict=True))
    return f"<tr>{''.join(shown)}</tr>"
