"""A sheet as plain text in columns, for a terminal or a printer that knows no more."""

from rackwright.papers.document import Header, Sheet, Words, Written
from rackwright.units.text_table import cells, table, wrap

WIDTH = 100


def as_text(sheet: Sheet, header: Header) -> str:
    """The sheet as the text of a file."""
    parts = [f"{sheet.title.upper()}\n{header.words}\n{'=' * WIDTH}", *map(_block, sheet.written())]
    return "\n\n".join(parts) + "\n"


def _block(block: Written) -> str:
    if isinstance(block, Words):
        return "\n".join(wrap(f"CAUTION: {block.text}" if block.caution else block.text, WIDTH))
    tables = (
        "\n".join([*heads, "-" * max(map(cells, (*heads, *rows))), *rows])
        for heads, rows in table(block.heads, block.rows, WIDTH, block.right)
    )
    return f"{block.heading}\n".lstrip() + "\n\n".join(tables)
