#!/usr/bin/python3
# Makes the workbooks of this folder with programs that are not ours, and what is in them:
# openpyxl and XlsxWriter (Debian python3-openpyxl, python3-xlsxwriter), and Gnumeric's
# ssconvert for the OpenDocument one. The notes are invented.
#
#	/usr/bin/python3 make.py
import datetime as dt, json, subprocess
import openpyxl, xlsxwriter
from openpyxl.styles.numbers import FORMAT_PERCENTAGE
from openpyxl.utils.datetime import CALENDAR_MAC_1904, from_excel

rows = [
    ["Harvest of the top shelf"],
    [],
    ["Plant", "Cut on", "Weight (g)", "Burn", "Share", "Ripe", "Note"],
    ["P1", dt.date(2026, 3, 2), 141.5, 0, 0.05, True, "fine"],
    ["P2", dt.datetime(2026, 3, 2, 14, 30), 98, 2, 0.1, False, "a “quoted” word\nsecond line"],
    ["P3", dt.date(1900, 2, 28), 0.1, 3, 1, True, "É ß µ ² 🌱"],
    ["P4", dt.date(1900, 3, 1), -7.25, None, None, False, None],
    ["P5", dt.date(2028, 2, 29), 1e-9, 5, 0.005, True, "_x000D_ as it is"],
]

def plain(v):
    if isinstance(v, bool):
        return "yes" if v else "no"
    if isinstance(v, dt.datetime):
        return v.strftime("%Y-%m-%d %H:%M") if (v.hour or v.minute) else v.strftime("%Y-%m-%d")
    if isinstance(v, dt.date):
        return v.isoformat()
    return "" if v is None else v

def openpyxl_book(name, epoch1904=False):
    wb = openpyxl.Workbook()
    if epoch1904:
        wb.epoch = CALENDAR_MAC_1904
    ws = wb.active
    ws.title = "Harvest"
    for r, row in enumerate(rows, 1):
        for c, v in enumerate(row, 1):
            if v is None or epoch1904 and isinstance(v, dt.date) and v.year < 1904:
                continue
            cell = ws.cell(r, c, v)
            if c == 5 and r > 3:
                cell.number_format = FORMAT_PERCENTAGE
            if c == 2 and r > 3 and isinstance(v, dt.date) and not isinstance(v, dt.datetime):
                cell.number_format = "dd\\.mm\\.yyyy"
    ws.merge_cells("A1:G1")
    ws.merge_cells("G7:G8")
    ws.row_dimensions[5].hidden = True
    ws.column_dimensions["D"].hidden = True
    ws["H4"] = "=C4*2"           # no stored result
    ws["H5"] = "#N/A"
    ws["H5"].data_type = "e"
    other = wb.create_sheet("Old")
    other["A1"] = "nothing"
    other.sheet_state = "hidden"
    wb.save(name)

def xlsxwriter_book(name, **options):
    wb = xlsxwriter.Workbook(name, options)
    ws = wb.add_worksheet("Harvest")
    day = wb.add_format({"num_format": "d mmm yyyy"})
    clock = wb.add_format({"num_format": "yyyy-mm-dd hh:mm"})
    percent = wb.add_format({"num_format": "0.0%"})
    for r, row in enumerate(rows):
        for c, v in enumerate(row):
            if isinstance(v, bool):
                ws.write_boolean(r, c, v)
            elif isinstance(v, dt.datetime):
                ws.write_datetime(r, c, v, clock)
            elif isinstance(v, dt.date):
                if options.get("date_1904") and v.year < 1904:
                    continue
                ws.write_datetime(r, c, dt.datetime(v.year, v.month, v.day), day)
            elif v is None:
                continue
            elif c == 4 and r > 2:
                ws.write_number(r, c, v, percent)
            else:
                ws.write(r, c, v)
    ws.write_formula("H4", "=C4*2", None, 283)
    ws.write_formula("H5", "=NA()", None, "#N/A")
    ws.write_rich_string("H6", wb.add_format({"bold": True}), "bold", " and plain")
    # Bare serial numbers around the day that never was.
    for i, serial in enumerate([1, 59, 60, 61, 45000.5]):
        ws.write_number(9 + i, 8, serial, day)
    wb.close()

openpyxl_book("openpyxl.xlsx")
openpyxl_book("openpyxl-1904.xlsx", True)
xlsxwriter_book("xlsxwriter.xlsx", **{"strings_to_numbers": False})
xlsxwriter_book("xlsxwriter-1904.xlsx", **{"date_1904": True})
subprocess.run(["ssconvert", "xlsxwriter.xlsx", "gnumeric.ods"], check=True, capture_output=True)
subprocess.run(["ssconvert", "xlsxwriter.xlsx", "gnumeric.xlsx"], check=True, capture_output=True)

# What openpyxl makes of serial numbers, in both epochs.
serials = [1, 2, 31, 58, 59, 61, 62, 366, 367, 1461, 1462, 36526, 45000, 45000.5, 45351.25, 61423, 73050, 2958465]
out = {
    "rows": [[plain(v) for v in row] for row in rows],
    "from1900": {repr(s): plain(from_excel(s)) if from_excel(s).second == 0 else str(from_excel(s)) for s in serials},
    "from1904": {repr(s): plain(from_excel(s, CALENDAR_MAC_1904)) for s in serials if s < 2957003},
}
json.dump(out, open("expected.json", "w"), ensure_ascii=False, indent=1)
