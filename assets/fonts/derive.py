"""Derives the window's two font files from Inter (fonts-inter 4.0~beta7 of Debian 12; SIL OFL 1.1).

usage: derive.py INTER-REGULAR.otf INTER-SEMIBOLD.otf   (needs fonttools)

Tabular figures become the default figures, the diameter sign U+2300 is given the shape of U+2205, the
character set is cut down to what the program and ordinary Latin, Greek and Cyrillic text need, and the fonts
are renamed, as the licence asks of a changed version.
"""

import sys
from fontTools import subset
from fontTools.ttLib import TTFont

RANGES = [
    (0x20, 0x7F), (0xA0, 0x250), (0x370, 0x460), (0x2010, 0x2035), (0x2070, 0x209F), (0x20AC, 0x20AD),
    (0x2190, 0x2200), (0x2200, 0x2270), (0x2300, 0x2301), (0x25A0, 0x2600), (0x2713, 0x2714),
]


def derive(source, style):
    font = TTFont(source)
    tabular = {}
    for record in font["GSUB"].table.FeatureList.FeatureRecord:
        if record.FeatureTag == "tnum":
            for index in record.Feature.LookupListIndex:
                for table in font["GSUB"].table.LookupList.Lookup[index].SubTable:
                    tabular.update(getattr(table, "ExtSubTable", table).mapping)
    for table in font["cmap"].tables:
        if table.isUnicode():
            # Some of these tables are one object, so a figure may already have been replaced.
            for digit in "0123456789":
                glyph = table.cmap[ord(digit)]
                table.cmap[ord(digit)] = tabular.get(glyph, glyph)
            table.cmap[0x2300] = table.cmap[0x2205]
    options = subset.Options()
    options.layout_features = ["kern"]
    options.name_IDs = ["*"]
    options.notdef_outline = True
    options.hinting = False
    cut = subset.Subsetter(options)
    cut.populate(unicodes=[c for low, high in RANGES for c in range(low, high)])
    cut.subset(font)
    for entry in font["name"].names:
        if entry.nameID in (1, 16):
            entry.string = "Vialwright Sans"
        elif entry.nameID in (3, 6):
            entry.string = "VialwrightSans-" + style
        elif entry.nameID == 4:
            entry.string = "Vialwright Sans " + style
    compact = font["CFF "].cff
    compact.fontNames[0] = "VialwrightSans-" + style
    compact.topDictIndex[0].FullName = "Vialwright Sans " + style
    compact.topDictIndex[0].FamilyName = "Vialwright Sans"
    font.save("VialwrightSans-" + style + ".otf")


derive(sys.argv[1], "Regular")
derive(sys.argv[2], "SemiBold")
