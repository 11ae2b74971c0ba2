"""Workbooks for the tests: .xlsx and .ods by hand as their standards have them, .xls as an independent library wrote it.

Source: ECMA-376 part 1, SpreadsheetML (worksheets, shared formulas' cells, merged cells, dates as numbers with a format);
OASIS OpenDocument 1.3 part 3, tables. The .xls is of xlwt 1.3.0.
"""

import base64
import io
import zipfile
import zlib
from collections.abc import Mapping, Sequence
from xml.sax.saxutils import escape, quoteattr

_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_LINKS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006/relationships"
_TYPES = "http://schemas.openxmlformats.org/package/2006/content-types"
_OPEN = "urn:oasis:names:tc:opendocument:xmlns"

XLS = zlib.decompress(
    base64.b85decode(
        "c-rk)O=uHA6#izjNz>S$B&I?uh7ho}wF=e>UTXY7d$QDClp<)-u0J#;5+hU(TCF(>f+xjGp%*VzFaA&!y?GESdJqI5sd(}vD0pbQ"
        "zV~($liEWATCD81%$qlF-kW(l^JaE--pmB@6AxMnScF}0VZp40r%a|O)fNkWP`zm~Tg<(bOb4q9wO*P?j~mnVuWNV?dA<wKa9@8("
        "6qu!S6lc+wP8pFE#9r|suGohjq6&9N(tu|1DkyYF=vtxoMDwZ8-6FXzw1;%_Y7jHAzK)%C6d%!|Qr7@(_mS9q5Xm+);T1>m<r~V<"
        "bz@KFbUgWQR)qCBOoHaE*GL(ecruR=P2eQHn-Sn!aizY9IP#U1E0Fw0rMzYd`Atm+#$X<o0MAiC&bq8cxG$ba8t3LHe0f2-tu(|!"
        "ACNRsC$py_ZD-n9m_DD%lJG>*7~Rr6+O>6uw^Zo%@s2Gk++VT6>m~B*hz_Gs_<+Q}pZ4&%yI<cPO!UW&iDXQ6b!+e6$nL_#6}BMb"
        "2B~oiWxqSbVzbbz(&~EQTZD#4lk(R7CYw1hE;`qwww3zXE_fH)RK~XvpZjv?aX9xW)=vCXZ{cES>V0eiQTi4QlRZD<=v1BR_ASPf"
        "STR@jKJig#^KW~GSM%GxoAw8;5%cf~8xU%hcyv^$q}gM|)@liBCDuG1&!~ST)&nAoiZ$D5OW0{8I}bM4b0X0I(^jlO*oQE!{!1FG"
        "vm-&<5tlSw*`P}r<SAo)mozxN#?sdp=|88T)$P}2ZC$jxsPtK0$tAUPEYN~@$ez+B`wKoeaNxj!0|yQqI9Mf6auBr6@49`O_sCh("
        "y4RVfwBTHm{I?iDnw~8EnC?f4@(eCi6+i3XR>ii|GHr_Yg^a`0dj=y&h#w<W$1nZisq*((wxR#eEum`rU#P~<zuf;%jlkGu"
    )
)
"""Rows of stock: a head, two of one cable, then two for which the cable's cell is merged; one length is a formula never calculated."""


def xlsx(
    sheets: Mapping[str, Sequence[Sequence[object]]], merged: str = "", hidden: str = "", far: str = ""
) -> bytes:
    """Worksheets of such rows: text, numbers, None for nothing, `=…` for a formula never calculated, a pair for a number and
    its format (14 a date, 9 a percentage, ECMA-376 18.8.30). `far` is a cell somewhere else.
    """
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"
    links, listed, parts = "", "", {}
    for number, (name, rows) in enumerate(sheets.items(), 1):
        state = ' state="hidden"' if name == hidden else ""
        listed += f'<sheet name={quoteattr(name)} sheetId="{number}"{state} r:id="rId{number}"/>'
        links += f'<Relationship Id="rId{number}" Type="{_LINKS}/worksheet" Target="worksheets/sheet{number}.xml"/>'
        inside = "".join(
            f'<row r="{r}">{"".join(_cell(f"{chr(65 + c)}{r}", value) for c, value in enumerate(row))}</row>'
            for r, row in enumerate(rows, 1)
        )
        inside += f'<row r="{far[3:]}">{_cell(far, "x")}</row>' if far else ""
        ranges = f'<mergeCells count="1"><mergeCell ref="{merged}"/></mergeCells>' if merged else ""
        parts[f"xl/worksheets/sheet{number}.xml"] = (
            f'<worksheet xmlns="{_MAIN}"><sheetData>{inside}</sheetData>{ranges}</worksheet>'
        )
    links += f'<Relationship Id="rId99" Type="{_LINKS}/styles" Target="styles.xml"/>'
    parts |= {
        "[Content_Types].xml": f'<Types xmlns="{_TYPES}"><Override PartName="/xl/workbook.xml" ContentType="{kind}"/></Types>',
        "_rels/.rels": f'<Relationships xmlns="{_PACKAGE}"><Relationship Id="rId1" Type="{_LINKS}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": f'<workbook xmlns="{_MAIN}" xmlns:r="{_LINKS}"><sheets>{listed}</sheets></workbook>',
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{_PACKAGE}">{links}</Relationships>',
        "xl/styles.xml": f'<styleSheet xmlns="{_MAIN}"><cellXfs><xf numFmtId="0"/><xf numFmtId="14"/><xf numFmtId="9"/></cellXfs></styleSheet>',
    }
    return _archive(parts)


def _cell(at: str, value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, tuple):
        number, form = value
        return f'<c r="{at}" s="{(0, 14, 9).index(form)}"><v>{number}</v></c>'
    if isinstance(value, str) and value.startswith("="):
        return f'<c r="{at}"><f>{escape(value[1:])}</f></c>'
    if isinstance(value, str):
        return f'<c r="{at}" t="inlineStr"><is><t>{escape(value)}</t></is></c>'
    return f'<c r="{at}"><v>{value}</v></c>'


def ods(rows: Sequence[Sequence[object]], spanned: bool = False) -> bytes:
    """One table of such rows, its last cell over two rows where `spanned`."""
    told = "".join(f"<table:table-row>{''.join(map(_open_cell, row))}</table:table-row>" for row in rows)
    if spanned:
        told += '<table:table-row><table:table-cell table:number-rows-spanned="2" office:value-type="float" office:value="1"/></table:table-row>'
    content = (
        f'<office:document-content xmlns:office="{_OPEN}:office:1.0" xmlns:table="{_OPEN}:table:1.0" xmlns:text="{_OPEN}:text:1.0" office:version="1.3">'
        f'<office:body><office:spreadsheet><table:table table:name="A">{told}</table:table></office:spreadsheet></office:body></office:document-content>'
    )
    return _archive(
        {
            "mimetype": "application/vnd.oasis.opendocument.spreadsheet",
            "META-INF/manifest.xml": "<m/>",
            "content.xml": content,
        }
    )


def _open_cell(value: object) -> str:
    if value is None:
        return "<table:table-cell/>"
    if isinstance(value, str):
        return f'<table:table-cell office:value-type="string"><text:p>{escape(value)}</text:p></table:table-cell>'
    return f'<table:table-cell office:value-type="float" office:value="{value}"/>'


def _archive(parts: Mapping[str, str]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in parts.items():
            archive.writestr(name, text)
    return out.getvalue()
