"""A figure's notes as MEI, version 5 of the Music Encoding Initiative's format: one measure a group, on a staff of one
line."""

from xml.etree import ElementTree

from renderer.schedule.notation import Sign, WrittenGroup, beamed, write_groups
from renderer.timeline.model import Figure


def figure_mei(figure: Figure) -> str:
    """A figure as MEI. A note on which a hit begins is `hit-` and its pulse, from 0; a measure `group-` and its
    number, from 0."""
    root = ElementTree.Element("mei", {"xmlns": "http://www.music-encoding.org/ns/mei", "meiversion": "5.0"})
    header = _below(root, "meiHead", "fileDesc")
    _below(header, "titleStmt", "title").text = figure.name
    ElementTree.SubElement(header, "pubStmt")
    score = _below(root, "music", "body", "mdiv", "score")
    clef = {"n": "1", "lines": "1", "clef.shape": "perc", "clef.line": "1"}
    ElementTree.SubElement(_below(score, "scoreDef", "staffGrp"), "staffDef", clef)
    section = ElementTree.SubElement(score, "section")
    for number, group in enumerate(write_groups(figure)):
        attributes = {
            "n": str(number + 1),
            "xml:id": f"group-{number}",
            "metcon": "false",
            "right": "invis",
        }
        measure = ElementTree.SubElement(section, "measure", attributes)
        staff = ElementTree.SubElement(measure, "staff", {"n": "1"})
        _fill(ElementTree.SubElement(staff, "layer", {"n": "1"}), group)
    return ElementTree.tostring(root, encoding="unicode", xml_declaration=False)


def _below(element: ElementTree.Element, *tags: str) -> ElementTree.Element:
    for tag in tags:
        element = ElementTree.SubElement(element, tag)
    return element


def _fill(layer: ElementTree.Element, group: WrittenGroup) -> None:
    if group.tuplet:
        number, base = group.tuplet
        layer = ElementTree.SubElement(
            layer,
            "tuplet",
            {
                "num": str(number),
                "numbase": str(base),
                "num.format": "count" if group.single else "ratio",
                "num.place": "above",
                "bracket.place": "above",
                "bracket.visible": "true" if len(group.signs) > 1 else "false",
            },
        )
    for run in beamed(group.signs):
        parent = ElementTree.SubElement(layer, "beam") if len(run) > 1 else layer
        for sign in run:
            _write_sign(parent, sign)


def _write_sign(parent: ElementTree.Element, sign: Sign) -> None:
    attributes = {"dur": str(sign.value)}
    if sign.dotted:
        attributes["dots"] = "1"
    if sign.rest:
        ElementTree.SubElement(parent, "rest", attributes)
        return
    attributes |= {"pname": "b", "oct": "4", "loc": "0", "stem.dir": "up"}
    if sign.pulse is not None:
        attributes["xml:id"] = f"hit-{sign.pulse}"
    if sign.tied_back or sign.tied_on:
        attributes["tie"] = "m" if sign.tied_back and sign.tied_on else "t" if sign.tied_back else "i"
    note = ElementTree.SubElement(parent, "note", attributes)
    if sign.accent:
        ElementTree.SubElement(note, "artic", {"artic": "acc", "place": "above"})
