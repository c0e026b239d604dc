"""What goes over a slow line: pages compressed, files as they are."""

import gzip

from django.http import FileResponse, HttpResponse
from django.test import Client, RequestFactory

from plant.http import compressed


def asked() -> RequestFactory:
    return RequestFactory(HTTP_ACCEPT_ENCODING="gzip")


def test_a_page_goes_out_compressed_and_reads_the_same():
    page = "<p>The belt may stay on.</p>" * 100
    response = compressed(lambda request: HttpResponse(page))(asked().get("/"))
    assert response["Content-Encoding"] == "gzip"
    assert len(response.content) < len(page) / 4
    assert gzip.decompress(response.content).decode() == page


def test_a_file_keeps_its_length_so_that_its_progress_shows(tmp_path, db):
    file = tmp_path / "sheet.pdf"
    file.write_bytes(b"%PDF" + bytes(4000))
    with file.open("rb") as opened:
        answer = compressed(lambda request: FileResponse(opened, content_type="application/pdf"))
        response = answer(asked().get("/"))
        assert "Content-Encoding" not in response
        assert response["Content-Length"] == "4004"
        response.close()


def test_equal_pages_differ_in_length_so_that_their_length_gives_nothing_away(client: Client, db):
    lengths = {
        len(client.get("/sign-in", headers={"Accept-Encoding": "gzip"}).content) for _ in range(12)
    }
    assert len(lengths) > 2
