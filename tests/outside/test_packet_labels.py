"""Packet labels, read off the printed page by an independent decoder (zxing-cpp)."""

import re
import subprocess

import pytest
import zxingcpp
from PIL import Image

from program import run_well, served

DOTS_PER_INCH = 300
# Rows of labels are 37 mm high; codes whose centres lie closer than this stand in one row.
SAME_ROW_MM = 10


def decoded(pdf, folder):
    """The texts of all codes, page by page, row by row from the left."""
    subprocess.run(["pdftoppm", "-r", str(DOTS_PER_INCH), "-png", str(pdf), str(folder / "page")], check=True)
    texts = []
    for page in sorted(folder.glob("page*.png")):
        with Image.open(page) as image:
            codes = zxingcpp.read_barcodes(image, formats=zxingcpp.BarcodeFormat.QRCode)
        texts.extend(code.text for code in sorted(codes, key=place))
    return texts


def place(code):
    corner = code.position.top_left
    return round(corner.y / DOTS_PER_INCH * 25.4 / SAME_ROW_MM), corner.x


def printed(pdf):
    """The same texts as they are printed in plain letters, in the order of the page."""
    text = subprocess.run(["pdftotext", "-raw", str(pdf), "-"], check=True, capture_output=True, text=True).stdout
    return re.findall(r"GUARDROW/\S+", text)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_every_code_says_what_is_printed_and_labels_come_in_seeding_order(station, tmp_path, paper, output):
    folder, plots = station
    arguments = ["document", folder, "T-31", "packet-labels", "--by", "A. Tester", "--paper", paper]
    pdf = run_well(*arguments).out.strip()
    check(pdf, folder, "T-31", tmp_path, len(plots))


def test_the_labels_of_the_invented_station(demo, tmp_path):
    pdfs = sorted((demo / "publications").glob("*-packet-labels-layout-*.pdf"))
    assert pdfs
    for number, pdf in enumerate(pdfs):
        pages = tmp_path / str(number)
        pages.mkdir()
        code = pdf.name.split("-packet-labels")[0]
        check(pdf, demo, code, pages)


def check(pdf, folder, code, pages, expected=None):
    with served(folder) as server:
        packets = server.get(f"/api/trials/{code}/packets")["packets"]
        layout = server.get(f"/api/trials/{code}/layout")
    version = layout["line"]["version"]
    texts = [f"GUARDROW/{code}/L{version}/P{packet['plot']}/N{packet['sequence']}" for packet in packets]
    assert len(texts) == (expected or len(texts)) > 0
    assert printed(pdf) == texts
    assert decoded(pdf, pages) == texts
    assert [packet["plot"] for packet in packets] == seeding_order(layout["layout"])


def seeding_order(layout):
    """Pass by pass from the corner where the seeder begins, up one pass and down the next."""
    corner = layout["ground"]["seeder_start"]
    passes = sorted({plot["pass"] for plot in layout["plots"]}, reverse=corner.endswith("right"))
    upward = corner.startswith("front")
    order = []
    for number in passes:
        column = [plot for plot in layout["plots"] if plot["pass"] == number and plot["number"] is not None]
        column.sort(key=lambda plot: plot["range"], reverse=not upward)
        order.extend(plot["number"] for plot in column)
        upward = not upward
    return order
