"""Reads workbooks with openpyxl: the values must be those of the JSON file, to the last bit.

    python3 check.py FOLDER      (NAME.xlsx beside NAME.json)
"""
import datetime
import glob
import json
import sys

import openpyxl

faults = 0
names = sorted(glob.glob(sys.argv[1] + "/*.json"))
if not names:
    sys.exit("no package in " + sys.argv[1])
for name in names:
    whole = json.load(open(name))
    book = openpyxl.load_workbook(name[:-5] + ".xlsx")
    cells = formulas = 0
    for t in whole["resources"]:
        sheet = book[t["name"]]
        rows = list(sheet.iter_rows())
        assert [c.value for c in rows[0]] == [f["name"] for f in t["schema"]["fields"]], t["name"]
        assert sheet.freeze_panes == "A2", t["name"]
        assert len(rows) == len(t["data"]) + 1, t["name"]
        for n, (row, want) in enumerate(zip(rows[1:], t["data"])):
            for i, f in enumerate(t["schema"]["fields"]):
                got = row[i].value if i < len(row) else None
                w = want[f["name"]]
                formulas += i < len(row) and row[i].data_type == "f"
                if isinstance(got, datetime.datetime):
                    assert row[i].is_date
                    if f["type"] == "date":
                        got = got.date().isoformat()
                    else:  # openpyxl gives some µs more or less
                        got = (got + datetime.timedelta(microseconds=500)).isoformat(timespec="milliseconds")
                        w = w.rstrip("Z")
                        w = datetime.datetime.fromisoformat(w if "." not in w else (w + "000")[:23]).isoformat(timespec="milliseconds")
                cells += 1
                if f["type"] in ("number", "integer") and w is not None:
                    same = float(got).hex() == float(w).hex()
                else:
                    same = got == w and isinstance(got, bool) == isinstance(w, bool)
                if not same:
                    faults += 1
                    print("FAULT", name, t["name"], "row", n + 1, f["name"], repr(got), "want", repr(w), file=sys.stderr)
    assert formulas == 0
    print(f"{name.rsplit('/', 1)[1]}: {cells} cells of XLSX are those of JSON (openpyxl)")
sys.exit(1 if faults else 0)
