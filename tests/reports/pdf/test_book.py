"""Contents of more than one page: each line has the number of its page, and leads there."""

import io

import pypdfium2
from pypdf import PdfReader
from reportlab.platypus import Flowable, PageBreak

from reports.pdf.book import ContentsLine, Place, build_book
from reports.pdf.boxes import body
from reports.pdf.page import Printed, Running

RUNNING = Running(title="Folder", subject="North yard", printed=Printed(at="2 Mar 2026", by="Ada"))


def told(names: list[str]) -> list[Flowable]:
    story: list[Flowable] = [ContentsLine(str(n), name) for n, name in enumerate(names)]
    for n, name in enumerate(names):
        story += [PageBreak(), Place(str(n), name), body(name)]
    return story


def test_contents_over_several_pages_lead_to_every_page() -> None:
    names = [f"Zażółć & <{n}>" for n in range(150)]

    data, pages = build_book(told(names), running=RUNNING)

    reader = PdfReader(io.BytesIO(data))
    assert pages == len(reader.pages) == len(pypdfium2.PdfDocument(data))
    front = pages - len(names)
    assert front > 1
    assert [each["/Title"] for each in reader.outline] == names
    for n, each in enumerate(reader.outline):
        assert reader.get_destination_page_number(each) == front + n
    lines = "\n".join(page.extract_text() for page in reader.pages[:front]).splitlines()
    words = [line.strip() for line in lines]
    links = [link.get_object() for page in reader.pages[:front] for link in page["/Annots"]]
    assert len(links) == len(names)
    for n in range(len(names)):
        assert str(front + n + 1) in words
    assert build_book(told(names), running=RUNNING)[0] == data
