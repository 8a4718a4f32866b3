"""Packing, moving and counting: two names, once for each tap, and the missing part is named."""

from __future__ import annotations

import pytest
from django.core.exceptions import PermissionDenied
from django.core.management import CommandError, call_command
from django.db import IntegrityError, transaction

from shopflow.common.refusals import Refused
from shopflow.instruments.crate_words import words_of
from shopflow.instruments.models import Crate, CrateCount, CrateLine, CrateMove
from shopflow.instruments.selectors.crates import crates_of, missing_of
from shopflow.instruments.services import crates
from shopflow.instruments.services.crates import CrateMovedOn, Part
from shopflow.people.taps import KeyUsedTwice
from tests import cast

pytestmark = [pytest.mark.django_db, pytest.mark.data_layer]


@pytest.fixture
def maud():
    cast.shop()
    return cast.manager()


@pytest.fixture
def finn(maud):
    return cast.finisher()


@pytest.fixture
def piano(maud):
    return cast.instrument(by=maud, number="214")


@pytest.fixture
def box(piano, finn):
    return cast.crate(piano, by=finn, holds="4 × lid hinges, 12 × hinge screws")


def line(crate, name) -> CrateLine:
    return crate.lines.get(name=name)


def last(crate) -> int:
    counted = crate.moves.exclude(kind__in=["packed", "moved", "opened"]).last()
    return counted.pk if counted else 0


def out(crate, by, second, key="", seen=None, to="Tidewater Plating", **counts):
    return crates.count_out(
        crate=crate,
        counts={line(crate, name.replace("_", " ")).pk: n for name, n in counts.items()},
        to=to,
        by=by,
        tap=cast.tap(by, key=key),
        seen=last(crate) if seen is None else seen,
        second=second,
    )


def back(crate, by, second, key="", seen=None, rest_follows=False, **counts):
    return crates.count_in(
        crate=crate,
        counts={line(crate, name.replace("_", " ")).pk: n for name, n in counts.items()},
        by=by,
        tap=cast.tap(by, key=key),
        seen=last(crate) if seen is None else seen,
        second=second,
        rest_follows=rest_follows,
    )


def over(crate, by, **counts):
    return crates.count_over(
        crate=crate,
        counts={line(crate, name.replace("_", " ")).pk: n for name, n in counts.items()},
        by=by,
        tap=cast.tap(by),
        seen=last(crate),
    )


def test_a_stranger_packs_moves_and_counts_nothing(piano, box, finn):
    stray = cast.stranger()
    before = CrateMove.objects.count()
    deeds = [
        lambda: cast.crate(piano, by=stray),
        lambda: crates.pack(crate=box, part=Part("lock", 1), by=stray, tap=cast.tap(stray)),
        lambda: crates.move_crate(crate=box, place="loft", by=stray, tap=cast.tap(stray)),
        lambda: crates.open_crate(crate=box, by=stray, tap=cast.tap(stray)),
        lambda: crates.empty_crate(crate=box, by=stray, tap=cast.tap(stray), seen=0),
        lambda: out(box, stray, finn, lid_hinges=1),
        lambda: over(box, stray, lid_hinges=4, hinge_screws=12),
        lambda: crates.put_right(
            line=line(box, "lid hinges"), count=1, reason="x", by=stray, tap=cast.tap(stray)
        ),
    ]
    for deed in deeds:
        with pytest.raises(PermissionDenied):
            deed()
    assert (Crate.objects.count(), CrateMove.objects.count()) == (1, before)


def test_a_crate_gets_the_next_number_and_its_place_in_its_set(piano, finn, maud):
    first = cast.crate(piano, by=finn, set_name="Hardware", number=31)
    second = cast.crate(piano, by=finn, set_name="hardware", holds="")
    other = cast.crate(cast.instrument(by=maud, number="215"), by=finn, set_name="hardware")
    assert (first.number, second.number, other.number) == (31, 32, 33)
    assert second.set_name == "Hardware", "one set has one spelling"
    assert [str(row.of_set) for row in crates_of(piano)] == ["1 of 2", "2 of 2"]


@pytest.mark.parametrize("number", [31, 100_000])
def test_a_number_that_is_taken_or_too_large_is_refused_with_a_free_one(piano, finn, number):
    cast.crate(piano, by=finn, number=31)
    with pytest.raises(Refused, match="The next free number is 32"):
        cast.crate(piano, by=finn, number=number)
    assert Crate.objects.count() == 1


def test_a_crate_made_twice_with_one_tap_is_one_crate(piano, finn):
    made = [
        crates.make_crate(
            instrument=piano,
            set_name="keys",
            by=finn,
            tap=cast.tap(finn, key="k" * 12),
            parts=[Part("keys", 88)],
        )
        for _ in range(2)
    ]
    assert made[0] == made[1]
    assert (Crate.objects.count(), CrateLine.objects.get().count) == (1, 88)
    with pytest.raises(KeyUsedTwice):
        crates.make_crate(
            instrument=piano,
            set_name="keys",
            by=finn,
            tap=cast.tap(finn, key="k" * 12),
            parts=[Part("keys", 87)],
        )


def test_packing_adds_to_the_same_part_and_counts_once_for_each_tap(box, finn):
    for _ in range(3):
        crates.pack(crate=box, part=Part("Lid hinges", 2), by=finn, tap=cast.tap(finn, key="same-key-1"))
    assert line(box, "lid hinges").count == 6
    crates.pack(crate=box, part=Part("lock", 1, "no key"), by=finn, tap=cast.tap(finn))
    assert [str(row) for row in box.lines.all()] == ["6 × lid hinges", "12 × hinge screws", "1 × lock"]


@pytest.mark.parametrize("count", [0, -3, 1000])
def test_an_impossible_number_of_parts_is_refused_with_the_range(box, finn, count):
    with pytest.raises(Refused, match="allowed is 1 to 999"):
        crates.pack(crate=box, part=Part("lock", count), by=finn, tap=cast.tap(finn))
    assert box.lines.count() == 2


def test_it_moves_opens_and_is_emptied_and_its_ledger_keeps_every_step(box, finn):
    plating = cast.department("plating")
    crates.move_crate(crate=box, department=plating, place="shelf 3", by=finn, tap=cast.tap(finn))
    crates.open_crate(crate=box, by=finn, tap=cast.tap(finn))
    box.refresh_from_db()
    assert (box.department, box.place, box.state) == (plating, "shelf 3", "open")
    crates.empty_crate(crate=box, by=finn, tap=cast.tap(finn), seen=0)
    box.refresh_from_db()
    assert box.state == "emptied"
    assert [move.kind for move in box.moves.all()] == ["packed", "moved", "opened", "emptied"]
    with pytest.raises(Refused, match="is emptied"):
        crates.move_crate(crate=box, place="loft", by=finn, tap=cast.tap(finn))
    with pytest.raises(Refused, match="where it goes"):
        crates.move_crate(crate=box, by=finn, tap=cast.tap(finn))


def test_what_leaves_the_house_is_signed_by_two_different_people(box, finn, maud):
    for second in (None, finn):
        with pytest.raises(Refused, match=r"Two (names|different people)"):
            out(box, finn, second, lid_hinges=4)
    with pytest.raises(Refused, match="may not sign"):
        out(box, finn, cast.stranger(), lid_hinges=4)
    for outside in ("", "finn tarrow"):
        with pytest.raises(Refused, match="Two"):
            crates.count_out(
                crate=box,
                counts={line(box, "lid hinges").pk: 1},
                to="Tidewater Plating",
                by=finn,
                tap=cast.tap(finn),
                seen=0,
                second_outside=outside,
            )
    assert not CrateMove.objects.filter(kind="out").exists()
    move = out(box, finn, maud, lid_hinges=4)
    assert words_of(move) == (
        f"Crate {box.number}: 4 parts counted out to Tidewater Plating, by Finn Tarrow and Maud Ferrier."
    )


def test_the_ledger_itself_refuses_one_name_and_every_change(box, finn, maud):
    move = out(box, finn, maud, lid_hinges=4)
    for wrong in ({"second": None}, {"second": finn}):
        with pytest.raises(IntegrityError), transaction.atomic():
            CrateMove.objects.create(
                **{
                    "crate": box,
                    "kind": "out",
                    "by": finn,
                    "second": maud,
                    "tapped_at": move.tapped_at,
                    "client": "x",
                    "key": "y",
                    "body": "",
                }
                | wrong
            )
    move.place = "somewhere else"
    with pytest.raises(TypeError):
        move.save()
    with pytest.raises(TypeError):
        CrateMove.objects.all().delete()
    with pytest.raises(TypeError):
        CrateCount.objects.update(count=1)


def test_a_part_that_does_not_come_back_is_named_and_stays_missing_until_found(piano, box, finn, maud):
    out(box, finn, maud, lid_hinges=4, hinge_screws=12)
    assert missing_of(piano).words == [
        f"counted out: 4 of 4 × lid hinges at Tidewater Plating, crate {box.number}",
        f"counted out: 12 of 12 × hinge screws at Tidewater Plating, crate {box.number}",
    ]
    move = back(box, maud, finn, lid_hinges=3, hinge_screws=12)
    assert words_of(move).endswith("Missing: 1 of 4 × lid hinges.")
    assert missing_of(piano).words == [f"missing: 1 of 4 × lid hinges, crate {box.number}"]
    over(box, finn, lid_hinges=4, hinge_screws=12)
    assert not missing_of(piano)
    assert missing_of(piano).packed == [box]


def test_what_follows_later_is_not_missing(piano, box, finn, maud):
    out(box, finn, maud, lid_hinges=4)
    back(box, finn, maud, lid_hinges=3, rest_follows=True)
    hinges = line(box, "lid hinges")
    assert (hinges.here, hinges.away, hinges.missing) == (3, 1, 0)
    back(box, finn, maud, lid_hinges=1)
    assert not missing_of(piano)
    with pytest.raises(Refused, match="Nothing came back"):
        back(box, finn, maud, rest_follows=True)


@pytest.mark.parametrize("count", [-3, 5, 10**9])
def test_no_more_goes_out_or_comes_in_than_there_is(box, finn, maud, count):
    with pytest.raises(Refused, match="allowed is 0 to 4"):
        out(box, finn, maud, lid_hinges=count)
    out(box, finn, maud, lid_hinges=4)
    with pytest.raises(Refused, match="allowed is 0 to 4"):
        back(box, finn, maud, lid_hinges=count)
    with pytest.raises(Refused, match=r"allowed is 0 to (0|12)"):
        over(box, finn, hinge_screws=count + 20)


def test_counting_in_counts_every_part_that_is_out(box, finn, maud):
    out(box, finn, maud, lid_hinges=4, hinge_screws=12)
    with pytest.raises(Refused, match="Count every part: how many × hinge screws"):
        back(box, finn, maud, lid_hinges=4)
    assert line(box, "lid hinges").away == 4, "nothing of a refused count is kept"


def test_a_double_tap_counts_once_and_another_body_with_its_key_is_refused(box, finn, maud):
    moves = [out(box, finn, maud, key="tap-number-1", seen=0, lid_hinges=2) for _ in range(3)]
    assert len({move.pk for move in moves}) == 1
    assert line(box, "lid hinges").away == 2
    with pytest.raises(KeyUsedTwice):
        out(box, finn, maud, key="tap-number-1", seen=0, lid_hinges=1)
    with pytest.raises(KeyUsedTwice):
        out(box, finn, maud, key="tap-number-1", seen=0, to="Elsewhere", lid_hinges=2)


def test_the_second_of_two_counters_is_told_who_was_first(box, finn, maud):
    out(box, finn, maud, lid_hinges=4)
    greta = cast.person("Greta Lunt")
    with pytest.raises(CrateMovedOn, match="was counted out by Finn Tarrow") as refused:
        out(box, greta, maud, seen=0, hinge_screws=12)
    assert refused.value.status == 409
    assert line(box, "hinge screws").away == 0


def test_a_crate_is_not_emptied_while_a_part_is_gone(box, finn, maud):
    out(box, finn, maud, lid_hinges=4)
    with pytest.raises(Refused, match="4 of 4 × lid hinges"):
        crates.empty_crate(crate=box, by=finn, tap=cast.tap(finn), seen=last(box))
    with pytest.raises(Refused, match="count them in first"):
        crates.put_right(line=line(box, "lid hinges"), count=3, reason="x", by=finn, tap=cast.tap(finn))
    back(box, finn, maud, lid_hinges=3)
    with pytest.raises(Refused, match="Say why"):
        crates.put_right(line=line(box, "lid hinges"), count=3, reason="", by=finn, tap=cast.tap(finn))
    crates.put_right(
        line=line(box, "lid hinges"), count=3, reason="there were never four", by=finn, tap=cast.tap(finn)
    )
    crates.empty_crate(crate=box, by=finn, tap=cast.tap(finn), seen=last(box))
    assert line(box, "lid hinges").missing == 0


def test_the_ledger_and_what_is_shown_agree_and_a_difference_is_named_and_mended(box, finn, maud, capsys):
    crates.move_crate(crate=box, place="loft", by=finn, tap=cast.tap(finn))
    out(box, finn, maud, lid_hinges=4)
    back(box, finn, maud, lid_hinges=3, rest_follows=True)
    call_command("check_ledger")
    CrateLine.objects.filter(name="lid hinges").update(away=0)
    Crate.objects.update(place="cellar")
    with pytest.raises(CommandError, match="2 differences"):
        call_command("check_ledger")
    call_command("check_ledger", mend=True)
    assert "lid hinges: stored Tally(count=4, away=0" in capsys.readouterr().out
    assert (line(box, "lid hinges").away, Crate.objects.get().place) == (1, "loft")


def test_parts_of_another_instrument_are_never_among_its_own(piano, box, maud, finn):
    other = cast.instrument(by=maud, number="215")
    theirs = cast.crate(other, by=finn, holds="2 × pedals")
    out(theirs, finn, maud, pedals=2)
    assert not missing_of(piano)
    assert [row.crate for row in crates_of(piano)] == [box]
    assert missing_of(other).words == [
        f"counted out: 2 of 2 × pedals at Tidewater Plating, crate {theirs.number}"
    ]
