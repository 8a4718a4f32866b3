"""Letters of a shop that names no mail server: one line each, never a word of them, and never called sent."""

from __future__ import annotations

import logging

import pytest
from django.core.mail import EmailMessage
from django.core.mail.backends.locmem import EmailBackend

from shopflow.common import mail
from shopflow.common.mail import NO_SERVER, Went

SECRET = "http://quillmere.example/yours/h3Kq-7xZ_m1/"


def letter() -> EmailMessage:
    made = EmailMessage(subject="Our offer", body=f"Dear Agnes,\n{SECRET}", to=["agnes@applegarth.example"])
    made.attach("offer-311-1.pdf", b"%PDF-" + b"x" * 5_000, "application/pdf")
    return made


def test_without_a_server_a_letter_is_one_line_and_none_of_its_words(settings, caplog, capsys):
    settings.EMAIL_BACKEND = NO_SERVER
    with caplog.at_level(logging.INFO):
        went = mail.send(letter())
    (record,) = caplog.records
    line = record.getMessage()
    assert line.endswith("to agnes@applegarth.example, “Our offer”, with offer-311-1.pdf")
    assert "\n" not in line
    assert "/yours/" not in line
    assert went is Went.NOWHERE
    assert not went
    assert capsys.readouterr().out == ""


def test_a_subject_of_several_lines_is_still_one_line():
    made = EmailMessage(subject="a\nb\r\nc", to=["a@x.example", "b@x.example"])
    assert mail.in_one_line(made) == "to a@x.example, b@x.example, “a b c”"


def test_with_a_server_it_goes_out(settings):
    assert mail.send(letter()) is Went.OUT


@pytest.mark.parametrize("trouble", [ConnectionRefusedError("away"), TimeoutError("slow")])
def test_a_server_that_is_away_is_told_without_the_words_of_the_letter(monkeypatch, caplog, trouble):
    def away(*_: object) -> int:
        raise trouble

    monkeypatch.setattr(EmailBackend, "send_messages", away)
    assert mail.send(letter()) is Went.REFUSED
    assert "“Our offer”" in caplog.text
    assert "/yours/" not in caplog.text


@pytest.mark.parametrize("went", [Went.NOWHERE, Went.REFUSED, None])
def test_nothing_that_stayed_here_is_called_sent(went):
    words = mail.what_to_do(went, "agnes@applegarth.example")
    assert "sent" not in words
    assert "went by mail" not in words
    assert "yourself" in words, "it says what to do"


def test_the_console_of_a_new_shop_takes_no_letters_in_full():
    from shopflow import settings as of_a_shop

    assert of_a_shop.EMAIL_BACKEND in {NO_SERVER, "django.core.mail.backends.smtp.EmailBackend"}
