"""Sheets as PDF: black on white, laid out by `layout`, with the typeface inside the file."""

from collections.abc import Sequence
from datetime import UTC, datetime

from fpdf import FPDF

from rackwright.papers.document import Header, Sheet
from rackwright.papers.drawing import Strip, moved
from rackwright.papers.layout import BLANK, MARGIN, firsts, laid_out
from rackwright.papers.typeface import BOLD, REGULAR, file_of, printable

_FAMILY = "papers"


def as_pdf(sheets: Sequence[Sheet], header: Header) -> bytes:
    """The sheets one after the other in one file, with a bookmark each, and one for each rack in it; the pages of each counted for itself, and where there are several, through."""
    file = FPDF(unit="mm")
    file.set_auto_page_break(False)
    file.set_margin(0)
    file.set_title(printable(f"{', '.join(sheet.title for sheet in sheets)}: {header.words}"))
    file.set_creator("Rackwright")
    file.set_creation_date(datetime.fromisoformat(header.date).replace(tzinfo=UTC))
    for style in (REGULAR, BOLD):
        file.add_font(_FAMILY, style, file_of(style))
    laid = [laid_out(sheet, header) for sheet in sheets]
    begins = firsts(laid)
    count, number = begins[-1] + len(laid[-1].pages) - 1, 0
    for sheet, each, first in zip(sheets, laid, begins, strict=True):
        if number + 1 < first:
            number += 1
            file.add_page(format=(each.width, each.height))
            _draw(file, moved(BLANK, MARGIN, MARGIN))
        for place, page in enumerate(each.pages):
            number += 1
            file.add_page(format=(each.width, each.height))
            if not place:
                file.start_section(printable(sheet.title))
            for words, at in each.bookmarks:
                if at == place:
                    file.start_section(printable(words), level=1)
            _draw(file, page)
            if len(sheets) > 1 and each.numbered:
                file.set_font(_FAMILY, REGULAR, 11)
                file.text(MARGIN, each.height - MARGIN, f"page {number} of all {count}")
    return bytes(file.output())


def _draw(file: FPDF, page: Strip) -> None:
    for rule in page.rules:
        file.set_line_width(rule.weight)
        file.set_dash_pattern(**({"dash": 1.5, "gap": 1.5} if rule.dashed else {}))
        file.line(rule.x1, rule.y1, rule.x2, rule.y2)
    for text in page.texts:
        file.set_font(_FAMILY, text.style, text.size)
        file.text(text.x, text.y, text.words)
