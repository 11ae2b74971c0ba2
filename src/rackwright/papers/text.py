"""A sheet as plain text in columns, for a terminal or a printer that knows no more."""

from rackwright.papers.document import Block, Header, Labels, Sheet, Words, as_table
from rackwright.units.text_table import cells, table, wrap

WIDTH = 100


def as_text(sheet: Sheet, header: Header) -> str:
    """The sheet as the text of a file."""
    parts = [f"{sheet.title.upper()}\n{header.words}\n{'=' * WIDTH}", *map(_block, sheet.blocks)]
    return "\n\n".join(parts) + "\n"


def _block(block: Block) -> str:
    if isinstance(block, Words):
        return "\n".join(wrap(f"CAUTION: {block.text}" if block.caution else block.text, WIDTH))
    told = as_table(block) if isinstance(block, Labels) else block
    tables = (
        "\n".join([*heads, "-" * max(map(cells, (*heads, *rows))), *rows])
        for heads, rows in table(told.heads, told.rows, WIDTH, told.right)
    )
    return f"{told.heading}\n".lstrip() + "\n\n".join(tables)
