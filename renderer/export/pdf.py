"""Pages as PDF: outlines as vectors, text as text in fonts that the file brings along.

Each weight of the variable face is a font by itself, cut down to the letters that occur. HarfBuzz places the
letters, as in the films. Where a letter is not one character at its own place (writing from right to left, marks
over letters) the line is drawn as outlines.
"""

from collections.abc import Sequence
from functools import cache
from io import BytesIO
from itertools import groupby
from typing import NamedTuple

import uharfbuzz as hb
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.pathobject import PDFPathObject
from reportlab.pdfgen.textobject import PDFTextObject

from scenes.draw.look import BOLD, REGULAR
from scenes.draw.paths import Contour
from scenes.draw.shapes import place
from scenes.draw.text import FALLBACK_SCALE, font_bytes, letter, placed_letters
from scenes.paper.sheet import POINT, Label, Outline, Sheet

FACES = {400: "Regular", 600: "Semibold", 700: "Bold"}
PRODUCER = "barcross"


class _Face(NamedTuple):
    """One font of a file: the face that stands in for what the other lacks, or not, and a weight."""

    fallback: bool
    weight: int

    @property
    def name(self) -> str:
        if self.fallback:
            return "DejaVuSans" if self.weight == REGULAR else "DejaVuSans-Bold"
        return f"SourceSans3-{FACES[self.weight]}"


def write_pdf(sheets: Sequence[Sheet], title: str, subject: str) -> bytes:
    """The pages as a PDF file; the same pages give the same bytes."""
    file = BytesIO()
    first = _font(_Face(False, REGULAR)).fontName
    canvas = Canvas(file, invariant=1, pageCompression=1, initialFontName=first, pdfVersion=(1, 4))
    canvas.setTitle(title)
    canvas.setSubject(subject)
    canvas.setCreator(PRODUCER)
    canvas.setProducer(PRODUCER)
    canvas.setAuthor("")
    for sheet in sheets:
        canvas.setPageSize((sheet.paper.width / POINT, sheet.paper.height / POINT))
        canvas.translate(0, sheet.paper.height / POINT)
        for mark in sheet.marks:
            if isinstance(mark, Label):
                _write(canvas, mark)
            else:
                _draw(canvas, mark)
        canvas.showPage()
    canvas.save()
    return file.getvalue()


@cache
def _font(face: _Face) -> TTFont:
    """A face for the library, which keeps it by its name and cuts it down to what a file uses."""
    whole = hb.Face(hb.Blob(font_bytes(face.fallback, face.weight)))
    wanted = hb.SubsetInput()
    wanted.sets(hb.SubsetInputSets.UNICODE).update(whole.unicodes)
    wanted.layout_feature_tag_set.clear()
    if not face.fallback:
        wanted.pin_axis_location(whole, "wght", float(face.weight))
    font = TTFont(face.name, BytesIO(hb.subset(whole, wanted).blob.data))
    font.face.name = face.name.encode("ascii")  # all weights of the variable face call themselves the same
    pdfmetrics.registerFont(font)
    return font


def _face_of(label: Label, fallback: bool) -> _Face:
    """The fallback has two weights."""
    return _Face(fallback, label.weight if not fallback or label.weight == REGULAR else BOLD)


def _write(canvas: Canvas, label: Label) -> None:
    """A line of text, letter by letter where HarfBuzz moves them, else in whole runs."""
    placed = placed_letters(label.text, label.weight)
    if placed is None:
        outlines = place(letter(label.text, label.size, label.weight), label.x, label.baseline)
        _draw(canvas, Outline(tuple(outlines), fill=label.colour))
        return
    text = canvas.beginText()
    text.setFillColor(label.colour)
    for fallback, group in groupby(placed, key=lambda each: each.fallback):
        letters = list(group)
        size = label.size * (FALLBACK_SCALE if fallback else 1.0) / POINT
        font = _font(_face_of(label, fallback))
        text.setFont(font.fontName, size)
        run, start, reached = "", 0.0, 0.0
        for each in letters:
            x = (label.x + each.x * label.size) / POINT
            if run and abs(x - reached) > 0.001 * size:
                _out(text, run, start, label.baseline)
                run = ""
            if not run:
                start = reached = x
            run += each.text
            reached += font.stringWidth(each.text, size)
        _out(text, run, start, label.baseline)
    canvas.drawText(text)


def _out(text: PDFTextObject, run: str, x: float, baseline: float) -> None:
    text.setTextOrigin(round(x, 3), round(-baseline / POINT, 3))
    text.textOut(run)


def _draw(canvas: Canvas, outline: Outline) -> None:
    path = canvas.beginPath()
    for contour in outline.contours:
        _trace(path, contour, outline.closed)
    if outline.fill:
        canvas.setFillColor(outline.fill)
    if outline.stroke:
        canvas.setStrokeColor(outline.stroke)
        canvas.setLineWidth(outline.width / POINT)
        canvas.setDash([length / POINT for length in outline.dash])
    canvas.drawPath(path, stroke=int(bool(outline.stroke)), fill=int(bool(outline.fill)), fillMode=1)


def _trace(path: PDFPathObject, contour: Contour, closed: bool) -> None:
    """One contour; what is straight is written as a line."""
    points = (contour / POINT).round(3).tolist()
    (x, y), *_ = points[0]
    path.moveTo(x, -y)
    for (x0, y0), (x1, y1), (x2, y2), (x3, y3) in points:
        across, down = x3 - x0, y3 - y0
        bend = max(abs((x1 - x0) * down - (y1 - y0) * across), abs((x2 - x0) * down - (y2 - y0) * across))
        if bend < 0.005 * max(1.0, abs(across) + abs(down)):
            path.lineTo(x3, -y3)
        else:
            path.curveTo(x1, -y1, x2, -y2, x3, -y3)
    if closed:
        path.close()
