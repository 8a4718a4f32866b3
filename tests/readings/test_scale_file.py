"""A scale as a file: there and back, and every way in which a file can be wrong."""

import csv
import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import TestCase

from shopflow.readings.models import ScaleNote
from shopflow.readings.services import scale as services
from shopflow.readings.services import scale_file
from shopflow.workshop.services.bringing.problems import Unreadable

from .scale_cast import ScaleCast, bass, draft, treble

GOOD = "note,strings,length_mm,wire\n49,3,400,16\n50,3,378,16\n"


def read(text, encoding="utf-8"):
    return scale_file.read(text.encode(encoding), gauge="inch")


@pytest.mark.parametrize(
    ("text", "encoding"),
    [
        (GOOD, "utf-8"), (GOOD, "utf-8-sig"), (GOOD, "utf-16"), (GOOD, "utf-16-le"), (GOOD, "latin-1"),
        (GOOD.replace(",", ";"), "utf-8"), (GOOD.replace(",", "\t"), "utf-8"),
        (GOOD.replace("\n", "\r\n"), "utf-8"),
        ("sep=;\n" + GOOD.replace(",", ";"), "utf-8"),
        ("Note;Strings per note;Speaking length;Size\n49;3;400,0;16\n50;3;378,0;16\n", "cp1252"),
        ("note,length_in,strings,wire\n49,15.7480315,3,16\n50,14.8818898,3,16\n", "utf-8"),
        ('note,strings,length_mm,wire\n49,3,"15 3/4 in",16\n50,3,378,16\n', "utf-8"),
    ],
)  # fmt: skip
def test_files_as_shops_write_them_are_read(text, encoding):
    found = read(text, encoding)
    assert found.problems == []
    assert [(each.note, each.wire_size) for each in found.drafts] == [(49, 16), (50, 16)]
    assert [each.length_mm for each in found.drafts] == pytest.approx([400, 378], abs=0.1)


@pytest.mark.parametrize(
    ("text", "line", "column"),
    [
        ("note,strings,length_mm,wire\n49,3,400,16\n50,3,-3,16\n", 3, "length_mm"),
        ("note,strings,length_mm,wire\n49,3,1e400,16\n", 2, "length_mm"),
        ("note,strings,length_mm,wire\n49,3,NaN,16\n", 2, "length_mm"),
        ("note,strings,length_mm,wire\n\n49,9,400,16\n", 3, "strings"),
        ("note,strings,length_mm,wire\n49,3,400,99\n", 2, "wire"),
        ("note,strings,length_mm,wire\n49,3,400,=cmd\n", 2, "wire"),
        ("note,strings,length_mm,wire\n49,3,400,16\n49,3,401,16\n", 3, "note"),
        ("note,strings,length_mm,wire\n49,3,400,16,extra\n", 2, "beyond the last"),
        ("note,strings,length_mm\n49,3,400\n", 1, "wire"),
        ("note,strings,length_mm,wire,colour\n49,3,400,16,red\n", 1, "colour"),
        ("note,note,strings,length_mm,wire\n49,49,3,400,16\n", 1, "note"),
        ("note,strings,length_mm,length_in,wire\n49,3,400,15,16\n", 1, "length_in"),
    ],
)
def test_a_wrong_cell_is_named_by_line_and_column(text, line, column):
    found = read(text)
    assert (line, column) in [(each.line, each.column) for each in found.problems]
    assert all(each.allowed for each in found.problems)


@pytest.mark.parametrize(
    ("data", "words", "status"),
    [
        (b"", "empty", 422),
        (b"note,strings,length_mm,wire\n", "nothing", 422),
        (b'note,strings,length_mm,wire\n49,3,400,"16\n', "never closed", 422),
        (b"%PDF-1.7 something", "PDF", 422),
        (b"PK\x03\x04", "workbook", 422),
        (b"note,strings,length_mm,wire\n" + b"49,3,400,16\n" * 200_000, "more than 200 rows", 413),
        (b"x" * 5_000_001, "5.0 MB", 413),
    ],
)
def test_what_is_no_table_is_told_so(data, words, status):
    with pytest.raises(Unreadable) as caught:
        scale_file.read(data, gauge="inch")
    assert words in caught.value.words
    assert caught.value.status == status


class FileTests(ScaleCast, TestCase):
    def upload(self, data, name="scale.csv"):
        return self.client.post(self.url("bring/"), {"file": SimpleUploadedFile(name, data)})

    def test_a_stranger_and_another_bench_bring_nothing_in(self):
        for person in (self.stranger, self.finisher):
            self.client.force_login(person)
            with self.subTest(person=person.name):
                assert self.upload(GOOD.encode()).status_code == 403
                assert self.client.get(self.url("bring/")).status_code == 403
        self.client.force_login(self.stranger)
        assert self.client.get(self.url("csv/")).status_code == 403

    def test_a_scale_goes_out_and_comes_back_the_same(self):
        drafts = [*bass(), *treble()]
        drafts[0] = draft(1, "1380.25", "1.143 mm", cover="4.15", section="=bass, low", strings="1")
        services.put_table(scale=self.scale, drafts=drafts, seen_version=self.scale.version, by=self.manager)
        self.client.force_login(self.stringer)
        out = self.client.get(self.url("csv/"))
        assert out["Content-Type"].startswith("text/csv")
        rows = list(csv.reader(io.StringIO(out.content.decode("utf-8-sig"))))
        assert tuple(rows[0]) == scale_file.COLUMNS
        assert rows[1][1] == "'=bass, low"
        assert scale_file.read(out.content, gauge="inch").drafts == drafts

    def test_a_file_is_looked_at_first_and_then_takes_the_place_of_the_scale(self):
        self.filled()
        self.client.force_login(self.stringer)
        answer = self.upload(GOOD.encode())
        assert answer.status_code == 302
        assert self.scale.notes.count() == 22, "nothing is written by the look"
        look = self.client.get(answer["Location"])
        self.assertContains(look, "Nothing is written yet")
        self.assertContains(look, "taken out of the scale: notes 1, 2")
        self.scale.refresh_from_db()
        done = self.client.post(answer["Location"], {"version": self.scale.version})
        assert done.status_code == 302
        assert list(self.scale.notes.values_list("note", "length_mm")) == [(49, 400.0), (50, 378.0)]
        assert self.client.post(answer["Location"], {"version": self.scale.version}).status_code == 404

    def test_one_wrong_cell_and_nothing_comes_in(self):
        self.client.force_login(self.stringer)
        answer = self.upload(GOOD.encode() + b"51,3,minus,16\n")
        assert answer.status_code == 422
        self.assertContains(answer, "length_mm", status_code=422)
        assert not ScaleNote.objects.exists()

    def test_who_saved_meanwhile_is_not_written_over_unseen(self):
        self.client.force_login(self.stringer)
        seen = self.scale.version
        look = self.upload(GOOD.encode())["Location"]
        self.filled()
        answer = self.client.post(look, {"version": seen})
        assert answer.status_code == 409
        assert self.scale.notes.count() == 22

    def test_a_file_of_somebody_else_is_not_there(self):
        self.client.force_login(self.stringer)
        look = self.upload(GOOD.encode())["Location"]
        self.client.force_login(self.manager)
        assert self.client.get(look).status_code == 404

    def test_too_large_a_file_is_told_so(self):
        self.client.force_login(self.stringer)
        assert self.upload(b"n" * 5_000_001).status_code == 413
        assert self.client.post(self.url("bring/"), {}).status_code == 422
