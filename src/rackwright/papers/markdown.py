"""A sheet as Markdown."""

import re

from rackwright.papers.document import Header, Sheet, Table, Words, Written

_MEANT = re.compile(r"([\\`*_{}\[\]<>#|~])")
"""Signs that Markdown gives a meaning."""


def as_markdown(sheet: Sheet, header: Header) -> str:
    """The sheet as the text of a Markdown file."""
    parts = [f"# {_literal(sheet.title)}", _literal(header.words), *map(_block, sheet.written())]
    return "\n\n".join(parts) + "\n"


def _block(block: Written) -> str:
    if isinstance(block, Words):
        return f"**{_literal(block.text)}**" if block.caution else _literal(block.text)
    return "\n\n".join([*([f"## {_literal(block.heading)}"] if block.heading else []), _table(block)])


def _table(table: Table) -> str:
    rule = ["---:" if head in table.right else "---" for head in table.heads]
    rows = [_row(table.heads), f"| {' | '.join(rule)} |", *map(_row, table.rows)]
    return "\n".join(rows)


def _row(cells: tuple[str, ...]) -> str:
    return f"| {' | '.join(map(_literal, cells))} |"


def _literal(text: str) -> str:
    return _MEANT.sub(r"\\\1", " ".join(text.split()))
