#!/bin/sh
# Makes the fonts of this folder from those of the Debian package fonts-noto-core
# (20201225-1), with the subsetter of the Debian package python3-fonttools (4.38).
# Run it in an empty folder; it is no part of a build.
set -eu
from=/usr/share/fonts/truetype/noto
cut() { # FONT CHARACTERS
  /usr/bin/python3 -m fontTools.subset "$from/$1.ttf" --unicodes="$2" --no-hinting --layout-features='' \
    --drop-tables+=GDEF,GPOS,GSUB,STAT,DSIG,MATH,meta --no-glyph-names --notdef-outline \
    --name-IDs='0,1,2,3,4,5,6,13,14' --output-file="$1.ttf"
}
# Latin with the accents of Europe, Greek, Cyrillic of Europe, punctuation, raised and lowered figures, money, arrows and signs.
letters="U+0020-007E,U+00A0-017F,U+0192,U+0218-0233,U+023A,U+02B0-02FF,U+0300-0308,U+030A-030C,U+0327,U+0328,U+0370-03FF,U+0400-045F,U+0462,U+0463,U+0472-0475,U+0490,U+0491,U+04D8,U+04D9,U+1D2C-1D6A,U+1E00-1EFF,U+2002-200A,U+2010-2027,U+202F-2030,U+2032-2037,U+2039-203A,U+203E,U+2044,U+2070-209C,U+20A0-20BF,U+2103,U+2109,U+2116,U+2117,U+2122,U+2126,U+212A,U+212B,U+2113,U+2150-215E,U+2C7C,U+2C7D,U+2190-21FF,U+2200-22FF,U+25A0-25FF,U+FFFD"
for face in Regular Bold Italic BoldItalic; do cut "NotoSans-$face" "$letters"; done
cut NotoSansMath-Regular "U+2032-2037,U+2057,U+2070-209C,U+2102,U+2113,U+2115,U+211D,U+2190-2199,U+21A6,U+21C4,U+21CC,U+21D0-21D4,U+2200-2230,U+2234-2237,U+223C-2243,U+2245-2249,U+224D,U+2250,U+2260-226B,U+226E-2271,U+227A-227D,U+2282-2287,U+2295-2299,U+22A5,U+22C5,U+2308-230B,U+25A0-25A1,U+25B2-25C6,U+25CA-25CF,U+27E8,U+27E9,U+2A7D,U+2A7E"
cut NotoSansSymbols2-Regular "U+25A0-25FF,U+2600-2606,U+2610-2614,U+2618,U+2660-2667,U+26A0,U+26A1,U+2713-2718,U+2744,U+27A1,U+23F1,U+2318,U+23FB"
