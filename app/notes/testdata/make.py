#!/usr/bin/python3
# Makes the workbooks of this folder with XlsxWriter and openpyxl (Debian python3-xlsxwriter,
# python3-openpyxl) and Gnumeric's ssconvert. The notes are invented.
#
#	/usr/bin/python3 make.py
import datetime as dt, os, subprocess
import xlsxwriter

wb = xlsxwriter.Workbook("diary.xlsx")
ws = wb.add_worksheet("Shelf")
day = wb.add_format({"num_format": "ddd d. mmm yyyy"})
ws.merge_range("A1:D1", "Diary of the shelf", wb.add_format({"bold": True}))
for c, h in enumerate(["Pot", "Weight [g]", "Height", "When"]):
    ws.write(2, c, h)
rows = [("P1", 120, 11.5), ("P2", 131, 12), ("P3", 99.5, None), ("P1", 150, 13), ("P2", None, None)]
for r, (p, g, h) in enumerate(rows, 3):
    ws.write(r, 0, p)
    if g is not None:
        ws.write(r, 1, g)
    if h is not None:
        ws.write(r, 2, h)
ws.merge_range("D4:D6", dt.date(2026, 10, 5), day)
ws.write_datetime("D7", dt.datetime(2026, 10, 12), day)
ws.write_datetime("D8", dt.datetime(2026, 10, 12), day)
ws.write_formula("B8", "=B5*1.25-1.25", None, 162.5)
ws.write("A9", "Mean")
ws.write_formula("B9", "=AVERAGE(B4:B8)", None, 132.6)
ws.set_row(4, None, None, {"hidden": True})
other = wb.add_worksheet("Prices")
other.write(0, 0, "lamp")
other.write(0, 1, 89)
wb.close()

wb = xlsxwriter.Workbook("old.xlsx", {"date_1904": True})
ws = wb.add_worksheet("Old")
for c, h in enumerate(["plant no.", "fresh weight (g)", "leaf count", "date"]):
    ws.write(0, c, h)
day = wb.add_format({"num_format": "yyyy-mm-dd"})
for r, (p, g, n, d) in enumerate([(4, 77, 14, dt.date(2026, 9, 28)), (5, 81, 15, dt.date(2026, 9, 29))], 1):
    ws.write(r, 0, p); ws.write(r, 1, g); ws.write(r, 2, n); ws.write_datetime(r, 3, dt.datetime(d.year, d.month, d.day), day)
wb.close()
subprocess.run(["ssconvert", "old.xlsx", "diary.ods"], check=True, capture_output=True)
os.remove("old.xlsx")
