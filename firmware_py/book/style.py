"""The book's one style sheet: black on white, for A4 and Letter alike."""

from __future__ import annotations

from enum import StrEnum

from firmware_py.book.canvas import FONT
from firmware_py.book.cautions import FOOT


class Paper(StrEnum):
    """What the book is printed on. Every page fits both: A4's width and Letter's height."""

    A4 = "a4"
    LETTER = "letter"


SHEETS = {Paper.A4: "210mm 297mm", Paper.LETTER: "215.9mm 279.4mm"}
SIDE_MM, TOP_MM, FOOT_MM = 15, 13, 15

WIDE_MM, HIGH_MM = 180, 251
"""What is left of both papers: A4's width, Letter's height."""

_RULES = """
* { box-sizing: border-box }
html { background: #fff; color: #000 }
body { margin: 0 auto; max-width: 180mm; font: 10pt/1.35 FONT; background: #fff }
h1 { font-size: 22pt; line-height: 1.15; margin: 0 0 4mm; overflow-wrap: anywhere }
h2 { font-size: 15pt; line-height: 1.2; margin: 0 0 3mm; overflow-wrap: anywhere;
     break-after: avoid }
h3 { font-size: 11.5pt; margin: 5mm 0 2mm; overflow-wrap: anywhere; break-after: avoid }
p { margin: 0 0 2.5mm; overflow-wrap: anywhere }
ul, ol { margin: 0 0 3mm; padding-left: 6mm }
li { margin-bottom: 1mm; overflow-wrap: anywhere }
section { break-before: page; padding-top: 1mm }
section:first-of-type { break-before: auto }
figure { margin: 0 0 4mm; break-inside: avoid }
figure svg { display: block; max-width: 100%; height: auto; margin: 0 auto }
figcaption { margin-bottom: 1.5mm; overflow-wrap: anywhere }
.caution { border: 0.6mm solid #000; padding: 2mm 3mm; margin: 0 0 4mm; break-inside: avoid }
.caution b:first-child { text-transform: uppercase }
.caution ul { margin: 1mm 0 0 }
table { width: calc(100% - 0.5mm); border-collapse: collapse; margin: 0 0.25mm 4mm;
        table-layout: fixed }
thead { display: table-header-group }
tr { break-inside: avoid }
th, td { border: 0.25mm solid #000; padding: 0.9mm 1.4mm; text-align: left; vertical-align: top;
         font-size: 9pt; line-height: 1.25; overflow-wrap: anywhere }
th { font-size: 8.5pt; background: #eee; print-color-adjust: exact }
th.over { font-size: 11pt; background: #fff }
.label { font-weight: 700 }
.tick { width: 8mm }
.tick::before { content: ""; display: block; width: 4.2mm; height: 4.2mm; margin: 0.3mm auto;
                border: 0.35mm solid #000 }
th.tick::before { content: none }
.patch { display: inline-block; width: 5mm; height: 2.6mm; border: 0.25mm solid #000;
         margin-right: 1mm; print-color-adjust: exact }
.wire { white-space: nowrap; display: block }
.number { text-align: right; white-space: nowrap }
.of { font-size: 8.5pt }
.of span { display: inline-block; max-width: 100% }
.by { display: inline-block; line-height: 1.2; border: 0.25mm solid #000; padding: 0.1mm 1.6mm;
      font-weight: 700 }
@media print { .screen { display: none } }
@media screen {
  body { padding: 8mm 4mm }
  section { margin-bottom: 14mm; border-top: 0.25mm solid #000; padding-top: 6mm }
}
"""


def style(paper: Paper) -> str:
    """The style sheet for one paper."""
    page = (
        f"@page {{ size: {SHEETS[paper]}; margin: {TOP_MM}mm {SIDE_MM}mm {FOOT_MM}mm; "
        f'@bottom-left {{ content: "{FOOT}"; font: 8pt {FONT} }} '
        f'@bottom-right {{ content: counter(page) " / " counter(pages); font: 8pt {FONT} }} }}'
    )
    return page + _RULES.replace("FONT", FONT)
