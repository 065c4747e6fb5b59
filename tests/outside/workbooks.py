"""Do workbooks that other libraries write give the records that were put in? openpyxl (both date systems),
pandas, odfpy, XlsxWriter and xlwt write the same finds; trug reads each. To write the workbooks that
tests/reference/workbooks.rs reads again:

    .venv/bin/python tests/outside/workbooks.py --write
"""

import datetime
import json
import os
import subprocess
import sys
from pathlib import Path

import openpyxl
import pandas
import xlsxwriter
import xlwt
from odf.opendocument import OpenDocumentSpreadsheet
from odf.style import Style, TableRowProperties
from odf.table import CoveredTableCell, Table, TableCell, TableRow
from odf.text import P
from openpyxl.utils.datetime import CALENDAR_MAC_1904

DATA = Path(__file__).resolve().parent.parent / "reference" / "data" / "workbooks"
HEADINGS = ["Number", "Date", "Time", "Place", "Name", "Latitude", "Longitude", "Datum", "Notes"]


def finds():
    rows = []
    for number in range(1, 13):
        day = datetime.date(2026, 5, 3) if number < 8 else datetime.date(2026, 10, 17)
        at = datetime.time(9 + number // 2, (7 * number) % 60, 0)
        latitude, longitude = round(-42.51231 - 0.00107 * number, 5), round(146.25117 + 0.00113 * number, 5)
        rows.append([number, day, at, "Fern gully", "Mycena sp.", latitude, longitude, "WGS84", "caf\u00e9 <&> 5\u00b0"])
    return rows


def expected():
    """What trug must say of each find: number, date and minute, position."""
    return [
        [str(number), f"{day}T{at:%H:%M}", latitude, longitude]
        for number, day, at, _, _, latitude, longitude, _, _ in finds()
    ]


def with_openpyxl(path, epoch=None):
    book = openpyxl.Workbook()
    if epoch:
        book.epoch = epoch
    book.active.title = "About"
    book.active.append(["Notebook of the society", None, "see the other sheet"])
    sheet = book.create_sheet("2026")
    sheet.append(["Finds of the year"])
    sheet.merge_cells("A1:I1")
    sheet.append([])
    sheet.append(HEADINGS)
    for find in finds():
        sheet.append(find)
        if find[0] == 7:
            sheet.append([])
    # a date for each day, over the rows of the day
    sheet.merge_cells("B4:B10")
    sheet.merge_cells("B12:B16")
    sheet.append(["Total", None, None, None, None, "=COUNT(F4:F16)"])
    sheet.row_dimensions[5].hidden = True
    book.save(path)


def with_xlsxwriter(path):
    book = xlsxwriter.Workbook(path, {"date_1904": True})
    date, time = book.add_format({"num_format": "d.m.yyyy"}), book.add_format({"num_format": "hh:mm"})
    sheet = book.add_worksheet("2026")
    sheet.write_row(0, 0, HEADINGS)
    for row, find in enumerate(finds(), 1):
        for column, value in enumerate(find):
            if isinstance(value, datetime.date):
                sheet.write_datetime(row, column, datetime.datetime.combine(value, datetime.time()), date)
            elif isinstance(value, datetime.time):
                sheet.write_datetime(row, column, value, time)
            elif column == 0:
                sheet.write_formula(row, column, f"=ROW()-1", None, value)
            else:
                sheet.write(row, column, value)
    book.close()


def with_pandas(path):
    pandas.DataFrame(finds(), columns=HEADINGS).to_excel(path, index=False, sheet_name="finds")


def with_odfpy(path):
    document = OpenDocumentSpreadsheet()
    hidden = Style(name="hidden", family="table-row")
    hidden.addElement(TableRowProperties(useoptimalrowheight="true"))
    document.automaticstyles.addElement(hidden)
    sheet = Table(name="2026")
    document.spreadsheet.addElement(sheet)

    def row(cells, **how):
        line = TableRow(**how)
        for cell in cells:
            line.addElement(cell)
        sheet.addElement(line)

    def text(words, **how):
        cell = TableCell(valuetype="string", **how)
        cell.addElement(P(text=words))
        return cell

    row([text("Finds of the year", numbercolumnsspanned=9), CoveredTableCell(numbercolumnsrepeated=8)])
    row([TableCell(numbercolumnsrepeated=9)], numberrowsrepeated=3)
    row([text(heading) for heading in HEADINGS])
    for number, day, at, place, name, latitude, longitude, datum, notes in finds():
        shown = TableCell(valuetype="date", datevalue=day.isoformat())
        shown.addElement(P(text=f"{day:%d.%m.%y}"))
        clock = TableCell(valuetype="time", timevalue=f"PT{at:%HH%MM%SS}")
        clock.addElement(P(text=f"{at:%H:%M}"))
        numbers = [TableCell(valuetype="float", value=value) for value in (number, latitude, longitude)]
        row([numbers[0], shown, clock, text(place), text(name), *numbers[1:], text(datum), text(notes)])
    document.save(path)


def with_xlwt(path, epoch=False):
    book = xlwt.Workbook()
    book.dates_1904 = epoch
    sheet = book.add_sheet("2026")
    date, time = xlwt.easyxf(num_format_str="DD/MM/YYYY"), xlwt.easyxf(num_format_str="hh:mm")
    sheet.write_merge(0, 0, 0, 8, "Finds of the year")
    for column, heading in enumerate(HEADINGS):
        sheet.write(2, column, heading)
    for row, find in enumerate(finds(), 3):
        for column, value in enumerate(find):
            if isinstance(value, datetime.date):
                sheet.write(row, column, value, date)
            elif isinstance(value, datetime.time):
                sheet.write(row, column, value, time)
            else:
                sheet.write(row, column, value)
    sheet.row(5).hidden = True
    book.save(str(path))


WORKBOOKS = {
    "openpyxl-1900.xlsx": with_openpyxl,
    "openpyxl-1904.xlsx": lambda path: with_openpyxl(path, CALENDAR_MAC_1904),
    "xlsxwriter-1904.xlsx": with_xlsxwriter,
    "pandas.xlsx": with_pandas,
    "odfpy.ods": with_odfpy,
    "xlwt-1900.xls": with_xlwt,
    "xlwt-1904.xls": lambda path: with_xlwt(path, True),
}


FORMATS = {17: ["0000", "0017"], 18: ['"TH-"0000', "TH-0018"], 260019: ["00-0000", "26-0019"], 20: ["0000;[Red]-0000", "0020"]}


def with_formats(path):
    """Numbers that only their format shows with zeros, as XLS and XLSX."""
    days = [(number, code, datetime.date(2026, 5, 3)) for number, (code, _) in FORMATS.items()]
    if path.suffix == ".xls":
        book = xlwt.Workbook()
        sheet = book.add_sheet("2026")
        for column, heading in enumerate(["Number", "Date", "Name"]):
            sheet.write(0, column, heading)
        for row, (number, code, day) in enumerate(days, start=1):
            sheet.write(row, 0, number, xlwt.easyxf(num_format_str=code))
            sheet.write(row, 1, day, xlwt.easyxf(num_format_str="DD/MM/YYYY"))
            sheet.write(row, 2, "Mycena sp.")
    else:
        book = openpyxl.Workbook()
        book.active.append(["Number", "Date", "Name"])
        for row, (number, code, day) in enumerate(days, start=2):
            book.active.append([number, day, "Mycena sp."])
            book.active.cell(row, 1).number_format = code
    book.save(str(path))


def numbers_of_trug(path, work):
    command = [os.environ["TRUG"], "check", "--json", "--zone", "UTC", str(path)]
    done = subprocess.run(command, capture_output=True, text=True, cwd=work)
    return sorted(find["recordNumber"] for find in json.loads(done.stdout)["finds"])


def of_trug(path, work):
    command = [os.environ["TRUG"], "check", "--json", "--zone", "UTC", str(path)]
    done = subprocess.run(command, capture_output=True, text=True, cwd=work)
    found = json.loads(done.stdout)["finds"]
    return [
        [
            find["recordNumber"],
            find["eventDate"][:16],
            find["anchors"][0]["decimalLatitude"],
            find["anchors"][0]["decimalLongitude"],
        ]
        for find in found
    ]


def main():
    if "--write" in sys.argv:
        DATA.mkdir(exist_ok=True)
        for name, write in WORKBOOKS.items():
            write(DATA / name)
        return
    work = Path(os.environ["WORK"])
    for name, write in WORKBOOKS.items():
        write(work / name)
        found = of_trug(work / name, work)
        assert found == expected(), f"{name}: {found}"
        print(f"{name}: {len(found)} finds as written")
    for name in ["formats.xls", "formats.xlsx"]:
        with_formats(work / name)
        found = numbers_of_trug(work / name, work)
        assert found == sorted(shown for _, shown in FORMATS.values()), f"{name}: {found}"
        print(f"{name}: numbers as their formats show them")


main()
