"""A sheet as plain text in columns, for a terminal or a printer that knows no more."""

import re
import textwrap
from collections.abc import Sequence

from rackwright.papers.document import Block, Header, Labels, Sheet, Table, Words, as_table

_SPACE = re.compile(r"[^\S\u00a0]+")

WIDTH = 100
GAP = 2
LEAST_COLUMN = 10
"""A column of words is not squeezed under this."""


def as_text(sheet: Sheet, header: Header) -> str:
    """The sheet as the text of a file; wider than WIDTH only where figures alone take more."""
    title = sheet.title.upper()
    parts = [f"{title}\n{header.words}\n{'=' * WIDTH}", *map(_block, sheet.blocks)]
    return "\n\n".join(parts) + "\n"


def _block(block: Block) -> str:
    if isinstance(block, Words):
        return "\n".join(_wrapped(f"CAUTION: {block.text}" if block.caution else block.text, WIDTH))
    table = as_table(block) if isinstance(block, Labels) else block
    return (f"{table.heading}\n" if table.heading else "") + _table(table)


def _table(table: Table) -> str:
    rows = (table.heads, *table.rows)
    columns = list(zip(*rows, strict=True))
    widths = _squeezed(
        [_wanted(column, table) for column in columns], list(map(_longest_word, columns)), table
    )
    rule = "-" * (sum(widths) + GAP * (len(widths) - 1))
    head, *rest = (_row(row, widths, table) for row in rows)
    return "\n".join([head, rule, *rest])


def _wanted(column: Sequence[str], table: Table) -> int:
    """The width that a column wants; the head of a column of figures, or of one to write into, is wrapped."""
    head, *cells = column
    heads = head.split() if head in table.right | table.written else [head]
    return max(map(len, [*heads, *cells]))


def _row(cells: Sequence[str], widths: Sequence[int], table: Table) -> str:
    columns = [_wrapped(cell, width) for cell, width in zip(cells, widths, strict=True)]
    lines = []
    for i in range(max(map(len, columns))):
        shown = [
            f"{(column[i] if i < len(column) else ''):{'>' if head in table.right else '<'}{width}}"
            for head, column, width in zip(table.heads, columns, widths, strict=True)
        ]
        lines.append((" " * GAP).join(shown).rstrip())
    return "\n".join(lines)


def _longest_word(column: Sequence[str]) -> int:
    return max(len(word) for cell in column for word in _SPACE.split(cell))


def _squeezed(widths: list[int], whole: Sequence[int], table: Table) -> list[int]:
    """The widths with the widest columns of words made narrower until the table fits, as far as it can.

    Words are cut, a column being narrower than `whole`, only where that takes too much.
    """
    words = [i for i, head in enumerate(table.heads) if head not in table.right]
    for least in (whole, [LEAST_COLUMN] * len(widths)):
        while sum(widths) + GAP * (len(widths) - 1) > WIDTH:
            wide = [i for i in words if widths[i] > max(least[i], LEAST_COLUMN)]
            if not wide:
                break
            widths[max(wide, key=lambda i: widths[i])] -= 1
    return widths


def _wrapped(text: str, width: int) -> list[str]:
    """Lines of at most `width` signs; what no-break spaces hold together is parted only where it must be."""
    whole = _SPACE.sub(" ", text).strip()
    lines = textwrap.wrap(whole, width, break_on_hyphens=False, break_long_words=False)
    if any(len(line) > width for line in lines):
        lines = textwrap.wrap(whole.replace("\u00a0", " "), width, break_on_hyphens=False)
    return [line.replace("\u00a0", " ") for line in lines] or [""]
