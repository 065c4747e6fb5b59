"""Is a listing that other programs edited and saved read as it was meant? `openpyxl` edits the workbook of
`trug finds --format xlsx`; `pandas` reads the CSV with Darwin Core terms, reorders and drops columns and saves it as
XLSX and, through `odfpy`, as ODS, with numbers as number cells and dates as date cells. Unedited, `trug amend --from`
must find no difference; edited, exactly those that were made. Columns of like meaning keep their own values.

Gets the path of trug in TRUG and an empty folder in WORK.
"""

import datetime
import io
import os
import pathlib
import subprocess
import sys

import openpyxl
import pandas

TRUG = os.environ["TRUG"]
WORK = pathlib.Path(os.environ["WORK"])
STORE = WORK / "days.gpkg"


def trug(*arguments, status=(0,)):
    done = subprocess.run([TRUG, *map(str, arguments)], capture_output=True, text=True)
    assert done.returncode in status, f"trug {arguments}: {done.returncode} {done.stdout} {done.stderr}"
    return done.stdout


def differences(path, status=(0,)):
    return trug("amend", "--store", STORE, "--from", path, "--reason", "edited", status=status).splitlines()


def typed(cell):
    """What a spreadsheet makes of a text cell: a number, a time or a date where it looks like one."""
    if not isinstance(cell, str):
        return cell
    for form, part in (("%H:%M", "time"), ("%H:%M:%S", "time"), ("%Y-%m-%d", "date")):
        try:
            return getattr(datetime.datetime.strptime(cell, form), part)()
        except ValueError:
            pass
    try:
        return float(cell)
    except ValueError:
        return cell


def records_by_openpyxl():
    path = WORK / "records.xlsx"
    trug("finds", "--store", STORE, "--format", "xlsx", "--out", path)
    book = openpyxl.load_workbook(path)
    sheet = book.active
    for row in sheet.iter_rows(min_row=2):
        for cell in row:
            cell.value = typed(cell.value)
    book.save(path)
    assert differences(path) == [], differences(path)
    headings = {cell.value: cell.column for cell in sheet[1]}
    number = sheet.cell(3, headings["number"]).value
    sheet.cell(3, headings["host"]).value = "Eucalyptus obliqua"
    sheet.cell(3, headings["time"]).value = datetime.time(11, 41)
    sheet.insert_cols(1)
    sheet.cell(1, 1).value = "wind"
    sheet.cell(3, 1).value = "strong"
    sheet.sheet_state = "visible"
    book.create_sheet("Notes of the editor")["A1"] = "checked"
    book.save(path)
    found = {line.split(":")[0] for line in differences(path)}
    assert found == {f"{number} {what}" for what in ("host", "time", "wind")}, found
    trug("amend", "--store", STORE, "--from", path, "--yes", "--reason", "edited")
    assert differences(path) == []
    trug("undo", "--store", STORE)


def columns_of_like_meaning():
    """Fields of one meaning under two headings: each keeps its values; a column that is added empties nothing."""
    coloured = next(
        line for line in trug("finds", "--store", STORE, "--format", "csv").splitlines() if "\"\"colour\"\"" in line
    )
    number = next(cell for cell in coloured.split(",") if cell.startswith(("AQ-", "NBP")))
    trug("amend", number, "--store", STORE, "--field", "cap colour=ochre", "--reason", "looked again")
    path = WORK / "like.xlsx"
    trug("finds", "--store", STORE, "--format", "xlsx", "--out", path)
    assert differences(path) == [], differences(path)
    book = openpyxl.load_workbook(path)
    sheet = book.active
    headings = {cell.value: cell.column for cell in sheet[1]}
    assert {"colour", "cap colour"} <= set(headings), headings
    sheet.delete_cols(headings["colour"])
    for column, heading in enumerate(("odour", "Habitat notes", "Farbe"), start=sheet.max_column + 1):
        sheet.cell(1, column).value = heading
    book.save(path)
    assert differences(path) == [], differences(path)
    trug("undo", "--store", STORE)


def terms_by_pandas():
    text = trug("finds", "--store", STORE, "--format", "csv")
    # a reader that guesses types, as spreadsheets do
    table = pandas.read_csv(io.StringIO(text))
    table["verbatimEventDate"] = pandas.to_datetime(table["verbatimEventDate"].str[:10], errors="coerce")
    table = table[table.columns[::-1]].drop(columns=["georeferenceRemarks", "habitat"])
    edited = table.copy()
    row = edited.index[edited["decimalLatitude"].notna()][1]
    edited.loc[row, "locality"] = "Lantern Hill"
    edited.loc[row, "decimalLatitude"] += 0.0001
    edited["catalogNumber"] = edited["catalogNumber"].astype(object)
    edited.loc[row, "catalogNumber"] = "QF 10042"
    number = edited.loc[row, "recordNumber"]
    for end, engine in (("xlsx", "openpyxl"), ("ods", "odf"), ("csv", None)):
        for name, saved in (("same", table), ("edited", edited)):
            path = WORK / f"{name}.{end}"
            if engine:
                saved.to_excel(path, index=False, engine=engine)
            else:
                # as saved where the decimal mark is a comma
                saved.to_csv(path, index=False, sep=";", decimal=",")
        assert differences(WORK / f"same.{end}") == [], (end, differences(WORK / f"same.{end}"))
        found = {line.split(":")[0] for line in differences(WORK / f"edited.{end}")}
        wanted = {f"{number} {what}" for what in ("place", "position", "catalogNumber")}
        assert found == wanted, (end, found)


def faults_are_set_aside():
    path = WORK / "faults.xlsx"
    trug("finds", "--store", STORE, "--format", "xlsx", "--out", path)
    book = openpyxl.load_workbook(path)
    sheet = book.active
    headings = {cell.value: cell.column for cell in sheet[1]}
    sheet.cell(2, headings["host"]).value = "#REF!"
    sheet.cell(2, headings["host"]).data_type = "e"
    sheet.cell(3, headings["find identifier"]).value = "unknown"
    sheet.cell(4, headings["number"]).value = None
    sheet.cell(5, headings["notes"]).value = "seen again"
    book.save(path)
    found = differences(path, status=(1,))
    assert len(found) == 1 and "notes" in found[0], found


def main():
    days = ("2026-04-18-wren-gully", "2026-05-02-thimble-spur")
    for day in days:
        trug("import", pathlib.Path("sample-tracks") / day, "--store", STORE, status=(0, 1))
    records_by_openpyxl()
    columns_of_like_meaning()
    terms_by_pandas()
    faults_are_set_aside()
    print("openpyxl, pandas and odfpy: unedited listings have no differences, edited ones those that were made")


if __name__ == "__main__":
    sys.exit(main())
