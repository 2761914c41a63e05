"""Writes ten registers as ten different offices would keep them, and what each row means.

Two things were put right when the import had read them: American CPVC pipe that no maker lists
for sprinklers is no good row, and the second file names its buildings and no site.

Written without reading the import's code or its word lists. `python make_exports.py` writes
the files beside this one again; `truth.jsonl` says for every line of pipe what a careful
reader makes of it, or why nobody should load it.
"""

import csv
import datetime as dt
import io
import json
import random
from pathlib import Path

from openpyxl import Workbook
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter

HERE = Path(__file__).parent
TRUTH: dict[str, list[dict]] = {}
FOOT = 0.3048


def note(file, sheet, row, *, good=True, why="", **facts):
    TRUTH.setdefault(file, []).append(
        {"sheet": sheet, "row": row, "good": good, **({"why": why} if why else {}), **facts}
    )


def write_text(name, text, encoding):
    (HERE / name).write_bytes(text.encode(encoding))


def delimited(rows, delimiter, line="\r\n"):
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator=line).writerows(rows)
    return out.getvalue()


def comma(value, places=1):
    return f"{value:.{places}f}".replace(".", ",")


def german_list():
    """No site column: the site stands in the title. Old code page, semicolons, totals."""
    name, rng = "01_bestand_rohrnetz.csv", random.Random(1)
    rows = [
        ["Bestandsverzeichnis Rohrnetz", "", "", "", "", "", "", ""],
        ["Objekt: Speicherhaus Ost", "", "", "", "", "Stand: 14.03.2026", "", ""],
        [],
        [
            "Anlagen-Nr.",
            "Anlagenart",
            "Rohrabschnitt",
            "DN",
            "Länge [m]",
            "Werkstoff",
            "Baujahr",
            "Bemerkung",
        ],
    ]
    kinds = {"Nassanlage": "wet", "Trockenanlage": "dry", "vorgesteuerte Anlage": "preaction"}
    stuff = {"Stahl schwarz": "black_steel", "Stahl verzinkt": "galvanized"}
    for number in range(1, 10):
        word = list(kinds)[number % 3]
        steel = "Stahl verzinkt" if word == "Trockenanlage" else "Stahl schwarz"
        year = rng.randint(1978, 2018)
        for part, dn in (("Steigleitung", 100), ("Verteilleitung", 80), ("Strangrohr", 32)):
            length = round(rng.uniform(4, 190), 1)
            rows.append([f"SPA {number:02d}", word, part, dn, comma(length), steel, year, ""])
            note(
                name,
                "",
                len(rows),
                site="Speicherhaus Ost",
                system=f"SPA {number:02d}",
                kind=kinds[word],
                run=part,
                length_m=length,
                dn=dn,
                material=stuff[steel],
                installed=str(year),
            )
    rows.append(
        ["SPA 10", "Nassanlage", "Steigleitung", 100, "", "Stahl schwarz", 1999, "Maß fehlt"]
    )
    note(name, "", len(rows), good=False, why="no length", system="SPA 10", run="Steigleitung")
    rows.append(["Summe", "", "", "", "2.412,7", "", "", ""])
    note(name, "", len(rows), good=False, why="total")
    write_text(name, delimited(rows, ";"), "cp1252")


def american_buildings():
    """A sheet for each building, headings on two lines, the system once for its merged lines."""
    name, rng = "02_sprinkler_pipe_by_building.xlsx", random.Random(2)
    book = Workbook()
    book.remove(book.active)
    cover = book.create_sheet("Read me")
    cover["A1"] = "Pipe take-off, one tab per building"
    cover["A3"] = "Lengths are field-measured. Call before you change anything."
    for letter, title in (("A", "Cold Store"), ("B", "Packing Hall"), ("C", "Offices")):
        sheet = book.create_sheet(f"Bldg {letter}")
        sheet["A1"] = f"Building {letter} - {title}"
        sheet["A1"].font = Font(bold=True, size=14)
        sheet.merge_cells("A1:H1")
        top = ["System", None, "Pipe", None, None, None, "Installed", "Notes"]
        under = ["No.", "Type", "Section", "Size (in)", "Sch.", "Length (ft)", None, None]
        for column, (upper, lower) in enumerate(zip(top, under, strict=True), 1):
            sheet.cell(3, column, upper)
            sheet.cell(4, column, lower)
        sheet.merge_cells("A3:B3")
        sheet.merge_cells("C3:F3")
        sheet.merge_cells("G3:G4")
        sheet.merge_cells("H3:H4")
        row = 5
        for number in range(1, 5):
            kind = {"A": "Dry", "B": "Wet", "C": "Wet"}[letter]
            if letter == "A" and number == 4:
                kind = "Preaction"
            first, total = row, 0
            installed = dt.date(rng.randint(1985, 2019), rng.randint(1, 12), rng.randint(1, 28))
            for section, size, schedule in (
                ("Riser", "6", "10"),
                ("Cross main", "4", "10"),
                ("Branch lines", "1 1/4", "40"),
            ):
                length = rng.randint(12, 640)
                total += length
                values = [
                    f"{letter}-{number}" if row == first else None,
                    kind if row == first else None,
                    section,
                    size,
                    schedule,
                    length,
                    installed if row == first else None,
                    None,
                ]
                for column, value in enumerate(values, 1):
                    sheet.cell(row, column, value)
                note(
                    name,
                    sheet.title,
                    row,
                    building=sheet.title,
                    system=f"{letter}-{number}",
                    kind=kind.lower(),
                    run=section,
                    length_m=round(length * FOOT, 3),
                    nps=size,
                    schedule=schedule,
                    installed=installed.isoformat(),
                )
                row += 1
            for column in "ABG":
                sheet.merge_cells(f"{column}{first}:{column}{row - 1}")
            sheet.cell(row, 3, f"Subtotal {letter}-{number}")
            sheet.cell(row, 6, total)
            note(name, sheet.title, row, good=False, why="total")
            row += 1
        sheet.cell(row + 1, 5, "Total ft")
        sheet.cell(row + 1, 6, f"=SUM(F5:F{row})/2")
        note(name, sheet.title, row + 1, good=False, why="total")
    book.save(HERE / name)


def french_sheet():
    """Every word French, dates as text and as dates, ditto marks, lengths in running metres."""
    name, rng = "03_inventaire_canalisations.xlsx", random.Random(3)
    book = Workbook()
    sheet = book.active
    sheet.title = "Canalisations"
    sheet.append(
        [
            "Établissement",
            "N° de poste",
            "Type de poste",
            "Tronçon",
            "Diamètre (DN)",
            "Longueur (ml)",
            "Matériau",
            "Date de mise en service",
            "Dernière visite",
            "Observations",
        ]
    )
    kinds = {"sous eau": "wet", "sous air": "dry", "préaction": "preaction", "déluge": "deluge"}
    stuff = {"acier noir": "black_steel", "acier galvanisé": "galvanized", "inox": "stainless"}
    for site in ("Entrepôt Nord", "Usine des Tilleuls"):
        for number in range(1, 7):
            word = list(kinds)[number % 4]
            steel = list(stuff)[number % 3]
            day = dt.date(rng.randint(1982, 2020), rng.randint(1, 12), rng.randint(13, 28))
            tag = f"P{number:02d}"
            for index, (part, dn) in enumerate(
                (("Colonne", 150), ("Collecteur", 100), ("Antennes", 40))
            ):
                length = rng.choice([12, 18.5, 44, 61.25, 103, 240.5])
                shown = day if number % 2 else day.strftime("%d/%m/%Y")
                sheet.append(
                    [
                        site if index == 0 else '"',
                        tag if index == 0 else '"',
                        word if index == 0 else '"',
                        part,
                        f"DN {dn}",
                        length,
                        steel if index == 0 else '"',
                        shown if index == 0 else '"',
                        None,
                        "vu" if index == 2 else None,
                    ]
                )
                note(
                    name,
                    sheet.title,
                    sheet.max_row,
                    site=site,
                    system=tag,
                    kind=kinds[word],
                    run=part,
                    length_m=length,
                    dn=dn,
                    material=stuff[steel],
                    installed=day.isoformat(),
                )
    sheet.append(
        ["Entrepôt Nord", "P07", "sous eau", "Antennes", "DN 40", -12, "acier noir", "15/06/2001"]
    )
    note(name, sheet.title, sheet.max_row, good=False, why="negative length", system="P07")
    book.save(HERE / name)


def spanish_export():
    """Inches with fractions, thousands points and decimal commas, a unit column, month names."""
    name, rng = "04_red_rociadores.csv", random.Random(4)
    rows = [
        [
            "Centro",
            "Código sistema",
            "Tipo de sistema",
            "Descripción tramo",
            "Diámetro",
            "Cantidad",
            "Ud",
            "Material",
            "Fecha instalación",
            "Precio unitario",
            "Importe",
        ]
    ]
    kinds = {"Húmedo": "wet", "Seco": "dry", "Acción previa": "preaction", "Diluvio": "deluge"}
    stuff = {"Acero negro": "black_steel", "Acero galvanizado": "galvanized", "Cobre": "copper"}
    months = ["ene", "feb", "mar", "abr", "may", "jun", "jul", "ago", "sep", "oct", "nov", "dic"]
    for site in ("Nave 3", "Almacén Central"):
        for number in range(1, 8):
            word = list(kinds)[number % 4]
            steel = list(stuff)[1 if word != "Húmedo" else 0]
            month, year = rng.randint(1, 12), rng.randint(1990, 2021)
            for part, size in (("Montante", '4"'), ("Ramal", '1 1/4"'), ("Colector", '2 1/2"')):
                length = rng.choice([7.25, 18.5, 92.75, 310.0, 1250.5])
                shown = f"{length:,.2f}".translate(str.maketrans(",.", ".,"))
                price = rng.uniform(11, 44)
                rows.append(
                    [
                        site,
                        f"ROC-{number}",
                        word,
                        part,
                        size,
                        shown,
                        "m",
                        steel,
                        f"{months[month - 1]}-{year}",
                        f"{comma(price, 2)} €",
                        f"{comma(price * length, 2)} €",
                    ]
                )
                note(
                    name,
                    "",
                    len(rows),
                    site=site,
                    system=f"ROC-{number}",
                    kind=kinds[word],
                    run=part,
                    length_m=length,
                    nps=size.rstrip('"'),
                    material=stuff[steel],
                    installed=f"{year}-{month:02d}",
                )
    write_text(name, delimited(rows, ";"), "utf-8-sig")


def two_sheets():
    """One sheet of systems, one of pipe, joined by the tag; extra sheets beside them."""
    name, rng = "05_asset_register.xlsx", random.Random(5)
    book = Workbook()
    systems = book.active
    systems.title = "Systems"
    systems.append(
        ["Tag", "Description", "System type", "Facility", "Supervisory gas", "Commissioned"]
    )
    pipe = book.create_sheet("Pipework")
    pipe.append(
        ["System tag", "Segment", "Duty", "NPS", "Schedule", "Length, ft", "Material", "Ends"]
    )
    contacts = book.create_sheet("Contacts")
    contacts.append(["Role", "Phone"])
    contacts.append(["Gatehouse", "ext. 40"])
    kinds = ["Wet pipe", "Dry pipe", "Pre-action", "Deluge"]
    ours = ["wet", "dry", "preaction", "deluge"]
    for number in range(1, 13):
        tag = f"FS-{100 + number}"
        site = ["Riverside Plant", "Hill Depot", "Annex"][number % 3]
        day = dt.date(rng.randint(1988, 2020), rng.randint(1, 12), rng.randint(1, 28))
        gas = "Air" if number % 4 in (1, 2) else "None"
        systems.append([tag, f"{site} zone {number}", kinds[number % 4], site, gas, day])
        for segment, duty, size, schedule in (
            (1, "Riser", 6, 10),
            (2, "Feed main", 4, 10),
            (3, "Branch line", 1.25, 40),
            (4, "Branch line", 1, 40),
        ):
            length = rng.randint(8, 700)
            pipe.append(
                [tag, f"{tag}-{segment}", duty, size, schedule, length, "Black steel", "Grooved"]
            )
            note(
                name,
                pipe.title,
                pipe.max_row,
                site=site,
                system=tag,
                kind=ours[number % 4],
                run=f"{tag}-{segment}",
                length_m=round(length * FOOT, 3),
                nps=str(size),
                schedule=str(schedule),
                material="black_steel",
                installed=day.isoformat(),
            )
    pipe.append(["FS-999", "FS-999-1", "Riser", 6, 10, 40, "Black steel", "Grooved"])
    note(name, pipe.title, pipe.max_row, good=False, why="its system is in no sheet")
    book.save(HERE / name)


def dutch_tabs():
    """Tabs, outside diameters and wall in millimetres, the year of laying."""
    name, rng = "06_leidingen.txt", random.Random(6)
    rows = [
        [
            "Locatie",
            "Installatie",
            "Soort installatie",
            "Leidingdeel",
            "Buitendiameter (mm)",
            "Wanddikte (mm)",
            "Lengte (m)",
            "Materiaal",
            "Jaar van aanleg",
            "Opmerkingen",
        ]
    ]
    kinds = {"nat": "wet", "droog": "dry"}
    for site in ("Loods Zuid", "Koelhuis"):
        for number in range(1, 9):
            word = list(kinds)[number % 2]
            year = rng.randint(1980, 2022)
            for part, outside, wall, dn in (
                ("stijgleiding", 114.3, 3.6, 100),
                ("hoofdleiding", 88.9, 3.2, 80),
                ("aftakking", 42.4, 2.6, 32),
            ):
                length = round(rng.uniform(3, 220), 2)
                rows.append(
                    [
                        site,
                        f"SPR{number}",
                        word,
                        part,
                        comma(outside),
                        comma(wall),
                        comma(length, 2),
                        "staal zwart",
                        year,
                        "",
                    ]
                )
                note(
                    name,
                    "",
                    len(rows),
                    site=site,
                    system=f"SPR{number}",
                    kind=kinds[word],
                    run=part,
                    length_m=length,
                    dn=dn,
                    wall_mm=wall,
                    material="black_steel",
                    installed=str(year),
                )
    rows.append(
        ["Koelhuis", "SPR9", "nat", "aftakking", "n.b.", "", "12,00", "staal zwart", 2004, ""]
    )
    note(name, "", len(rows), good=False, why="no size", system="SPR9")
    write_text(name, delimited(rows, "\t", "\n"), "utf-8")


def italian_sheet():
    """Headings on the eighth line under an address block, prices and contractors beside."""
    name, rng = "07_censimento_impianti.xlsx", random.Random(7)
    book = Workbook()
    sheet = book.active
    sheet.title = "Foglio1"
    for row, text in (
        (1, "Ufficio tecnico"),
        (2, "Censimento tubazioni impianti sprinkler"),
        (4, "Data di stampa: 02/02/2026"),
        (5, "Pagina 1 di 1"),
    ):
        sheet.cell(row, 1, text)
    headings = [
        "Pos.",
        "Edificio",
        "Sigla impianto",
        "Tipo impianto",
        "Tratto",
        "DN",
        "Lunghezza (m)",
        "Materiale",
        "Data installazione",
        "Impresa",
        "Costo €",
        "Foto",
    ]
    for column, heading in enumerate(headings, 2):
        sheet.cell(8, column, heading)
    kinds = {"a umido": "wet", "a secco": "dry", "a preallarme": "preaction"}
    row, position = 9, 1
    for site in ("Capannone 1", "Capannone 2", "Magazzino"):
        for number in range(1, 5):
            word = ["a umido", "a secco"][number % 2] if number < 4 else "a preallarme"
            day = dt.date(rng.randint(1984, 2019), rng.randint(1, 12), rng.randint(1, 28))
            for part, dn in (("montante", 100), ("collettore", 65), ("diramazione", 25)):
                length = round(rng.uniform(5, 160), 1)
                values = [
                    position,
                    site,
                    f"IMP{number}",
                    word,
                    part,
                    dn,
                    length,
                    "acciaio zincato",
                    day,
                    "Ditta Beta",
                    rng.randint(300, 9000),
                    "sì",
                ]
                for column, value in enumerate(values, 2):
                    sheet.cell(row, column, value)
                note(
                    name,
                    sheet.title,
                    row,
                    site=site,
                    system=f"IMP{number}",
                    kind=kinds[word],
                    run=part,
                    length_m=length,
                    dn=dn,
                    material="galvanized",
                    installed=day.isoformat(),
                )
                row, position = row + 1, position + 1
        sheet.cell(row, 3, f"Totale {site}")
        sheet.cell(row, 8, f"=SUM(H9:H{row - 1})")
        note(name, sheet.title, row, good=False, why="total")
        row += 1
    book.save(HERE / name)


def polish_sheet():
    """Numbers kept as text, spaces as thousands, a hidden helper column, abbreviations."""
    name, rng = "08_wykaz_rurociagow.xlsx", random.Random(8)
    book = Workbook()
    sheet = book.active
    sheet.title = "Wykaz"
    sheet.append(
        [
            "Lp.",
            "Obiekt",
            "Instalacja",
            "Rodzaj instalacji",
            "Odcinek",
            "Średnica DN",
            "Długość [m]",
            "Materiał",
            "Rok montażu",
            "klucz",
            "Uwagi",
        ]
    )
    sheet.column_dimensions[get_column_letter(10)].hidden = True
    kinds = {"wodna": "wet", "powietrzna": "dry", "wstępnie sterowana": "preaction"}
    stuff = {"stal czarna": "black_steel", "stal ocynkowana": "galvanized"}
    line = 1
    for site in ("Hala A", "Hala B"):
        for number in range(1, 8):
            word = list(kinds)[number % 3]
            steel = list(stuff)[0 if word == "wodna" else 1]
            year = rng.randint(1991, 2020)
            for part, dn in (("pion", 100), ("magistrala", 80), ("gałąź", 32)):
                length = rng.choice([8.5, 33.75, 120.0, 1045.5])
                shown = f"{length:,.2f}".replace(",", " ").replace(".", ",")
                sheet.append(
                    [
                        line,
                        site,
                        f"TR-{number:02d}",
                        word,
                        part,
                        str(dn),
                        shown,
                        steel,
                        f"{year} r.",
                        f"{site}|{number}|{part}",
                        None,
                    ]
                )
                note(
                    name,
                    sheet.title,
                    sheet.max_row,
                    site=site,
                    system=f"TR-{number:02d}",
                    kind=kinds[word],
                    run=part,
                    length_m=length,
                    dn=dn,
                    material=stuff[steel],
                    installed=str(year),
                )
                line += 1
    sheet.append(
        [line, "Hala B", "TR-08", "wodna", "pion", "100", "ok. ?", "stal czarna", "2003 r."]
    )
    note(name, sheet.title, sheet.max_row, good=False, why="no length", system="TR-08")
    book.save(HERE / name)


def british_report():
    """A printed report saved as a table: the system stands in a line above its pipe."""
    name, rng = "09_site_survey_riverbank_mill.csv", random.Random(9)
    rows = [
        ["Sprinkler pipework survey"],
        ["Site:", "Riverbank Mill"],
        ["Surveyed:", "3 March 2026"],
        [""],
    ]
    for number in range(1, 9):
        word, kind = [("Wet", "wet"), ("Dry", "dry"), ("Wet", "wet")][number % 3]
        year = rng.randint(1979, 2016)
        rows.append([f"Installation {number} - {word}"])
        rows.append(["Pipe", "Nominal bore", "Run (m)", "Material", "Year fitted", "Condition"])
        for part, bore in (("Riser", 150), ("Main distribution", 100), ("Range pipes", 32)):
            length = round(rng.uniform(5, 260), 1)
            rows.append([part, f"{bore} NB", length, "Mild steel, black", year, "Fair"])
            note(
                name,
                "",
                len(rows),
                site="Riverbank Mill",
                system=f"Installation {number}",
                kind=kind,
                run=part,
                length_m=length,
                dn=bore,
                material="black_steel",
                installed=str(year),
            )
        rows.append([""])
    write_text(name, delimited(rows, ","), "utf-8")


def maintenance_dump():
    """Forty columns of a maintenance program, few of them about pipe; feet and inches."""
    name, rng = "10_asset_dump.csv", random.Random(10)
    extra = [f"User field {n}" for n in range(1, 25)]
    rows = [
        [
            "Asset ID",
            "Parent asset",
            "Facility",
            "Floor",
            "Asset class",
            "Component",
            "Nominal dia",
            "Length",
            "Matl",
            "Sched",
            "In service",
            "Condition",
            "Last WO",
            "Cost center",
            *extra,
            "Created by",
        ]
    ]
    stuff = {"BLK STL": "black_steel", "GALV": "galvanized", "CPVC": "cpvc"}
    identity = 70001
    for site in ("North Campus", "South Campus"):
        for number in range(1, 9):
            word, kind = [
                ("Wet Pipe System", "wet"),
                ("Dry Pipe System", "dry"),
                ("Preaction System", "preaction"),
                ("Antifreeze Loop", "antifreeze"),
            ][number % 4]
            steel = "GALV" if kind == "dry" else ("CPVC" if number == 4 else "BLK STL")
            day = dt.date(rng.randint(1987, 2021), rng.randint(1, 12), rng.randint(13, 28))
            for part, size, schedule in (
                ("Riser", '4"', "10"),
                ("Cross Main", '3"', "10"),
                ("Branch", '1-1/2"', "40"),
            ):
                feet, inches = rng.randint(6, 480), rng.choice([0, 3, 6, 9])
                shown = f"{feet}'-{inches}\"" if inches else f"{feet} ft"
                rows.append(
                    [
                        identity,
                        f"{'NS'[site[0] == 'S']}-SPK-{number:02d}",
                        site,
                        number % 3 + 1,
                        word,
                        part,
                        size,
                        shown,
                        steel,
                        schedule,
                        f"{day.month}/{day.day}/{day.year}",
                        "GOOD",
                        f"WO{identity * 3}",
                        4410,
                        *["" for _ in extra],
                        "batch",
                    ]
                )
                note(
                    name,
                    "",
                    len(rows),
                    good=steel != "CPVC",
                    why="" if steel != "CPVC" else "no CPVC of this schedule is for sprinklers",
                    site=site,
                    system=f"{'NS'[site[0] == 'S']}-SPK-{number:02d}",
                    kind=kind,
                    run=part,
                    length_m=round((feet + inches / 12) * FOOT, 3),
                    nps=size.rstrip('"'),
                    schedule=schedule,
                    material=stuff[steel],
                    installed=day.isoformat(),
                )
                identity += 1
    rows.append(
        [
            identity,
            "N-SPK-09",
            "North Campus",
            1,
            "Wet Pipe System",
            "Riser",
            '4"',
            "TBD",
            "BLK STL",
            "10",
            "1/1/1900",
            "",
            "",
            4410,
            *["" for _ in extra],
            "batch",
        ]
    )
    note(name, "", len(rows), good=False, why="no length", system="N-SPK-09")
    write_text(name, delimited(rows, ","), "utf-8")


WRITERS = [
    german_list,
    american_buildings,
    french_sheet,
    spanish_export,
    two_sheets,
    dutch_tabs,
    italian_sheet,
    polish_sheet,
    british_report,
    maintenance_dump,
]

if __name__ == "__main__":
    for writer in WRITERS:
        writer()
    lines = [
        json.dumps({"file": file, **line}, ensure_ascii=False)
        for file, notes in TRUTH.items()
        for line in notes
    ]
    (HERE / "truth.jsonl").write_text("\n".join(lines) + "\n", encoding="utf-8")
    for file, lines in TRUTH.items():
        print(file, sum(line["good"] for line in lines), "good of", len(lines))
