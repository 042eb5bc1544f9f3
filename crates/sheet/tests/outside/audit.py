"""What ezdxf, a general-purpose library, finds in a DXF file: one JSON object on standard output."""

import json
import sys
from collections import Counter

import ezdxf

doc = ezdxf.readfile(sys.argv[1])
auditor = doc.audit()


def told(entries):
    return [f"{entry.code} {entry.message}" for entry in entries]


def placed(text):
    """Words, lower left corner, and the width they are fitted into."""
    start, end = text.dxf.insert, text.dxf.align_point
    assert text.dxf.halign == 5, text
    return [text.plain_text(), start.x, start.y, (end - start).magnitude]


model = doc.modelspace()
inserts, texts, lines, layers = [], [], Counter(), set()
for entity in model:
    layers.add(entity.dxf.layer)
    kind = entity.dxftype()
    if kind == "INSERT":
        attributes = {it.dxf.tag: it.dxf.text for it in entity.attribs}
        assert len(attributes) == len(entity.attribs), attributes
        inserts.append({"block": entity.dxf.name, "attributes": attributes})
        assert entity.dxf.name in doc.blocks
        defined = {it.dxf.tag for it in doc.blocks[entity.dxf.name].attdefs()}
        assert set(attributes) <= defined, (attributes, defined)
        layers.update(it.dxf.layer for it in entity.attribs)
        texts += [placed(it) for it in entity.attribs if not it.is_invisible]
    elif kind == "TEXT":
        texts.append(placed(entity))
    elif kind in ("LINE", "LWPOLYLINE"):
        lines[entity.dxf.layer] += 1

for layer in layers:
    assert layer in doc.layers, layer

json.dump(
    {
        "errors": told(auditor.errors),
        "fixes": told(auditor.fixes),
        "version": doc.dxfversion,
        "units": doc.units,
        "layouts": doc.layout_names_in_taborder(),
        "inserts": inserts,
        "texts": texts,
        "lines": lines,
        "layers": sorted(layers),
    },
    sys.stdout,
)
