from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from registry.models import PipeRun, Record, System, User

from .conftest import SAMPLES

MESSY, GOOD = str(SAMPLES / "register-messy.csv"), str(SAMPLES / "register-good.csv")
OWNER = "Averhythe Quays"


def run(*args) -> tuple[str, int]:
    out, code = StringIO(), 0
    try:
        call_command(
            "import_register",
            *args,
            "--word=material:BS=black_steel",
            stdout=out,
            stderr=StringIO(),
        )
    except SystemExit as end:
        code = end.code
    return out.getvalue(), code


def test_a_good_register_loads_with_exit_code_zero(world):
    text, code = run(GOOD, "--owner", OWNER)
    assert code == 0
    assert "6 rows: 6 loaded, 0 in the register already, 0 to fix." in text
    text, code = run(GOOD, "--owner", OWNER)
    assert (code, "0 loaded, 6 in the register already" in text) == (0, True)


def test_rows_to_fix_give_exit_code_two_and_are_listed_and_written(world, tmp_path):
    out = tmp_path / "fix.csv"
    text, code = run(MESSY, "--owner", OWNER, "--rows-to-fix", str(out))
    assert code == 2
    assert "32 rows: 8 loaded, 0 in the register already, 24 to fix." in text
    assert "Rows 5: Run length “forty feet”: it does not begin with a number. Write it" in text
    assert f"The 24 rows to fix are in {out}." in text
    assert out.read_text("utf-8-sig").count("\n") == 25


def test_a_dry_run_needs_no_owner_and_changes_nothing(db):
    text, code = run(MESSY, "--dry-run")
    assert (code, "8 would be loaded" in text) == (2, True)
    assert System.objects.count() == User.objects.count() == 0


def test_the_date_order_is_an_option(world):
    text, _ = run(MESSY, "--owner", OWNER, "--date-order", "dmy")
    assert "9 loaded" in text


def test_several_owners_are_never_guessed_between(world):
    with pytest.raises(CommandError, match="--owner NAME. Owners: “Averhythe Quays”, “Dun"):
        run(GOOD)
    with pytest.raises(CommandError, match="No owner is called “Nobody”"):
        run(GOOD, "--owner", "Nobody")


def test_the_book_says_who_entered_it(world):
    run(GOOD, "--owner", OWNER, "--by", world.owner.email)
    assert set(Record.objects.values_list("recorded_by", flat=True)) == {world.owner.pk}


def test_without_a_person_the_book_says_that_a_command_did_it(world):
    run(GOOD, "--owner", OWNER)
    user = User.objects.get(name="Import by command")
    assert not user.is_active
    assert not user.has_usable_password()
    assert PipeRun.objects.filter(record__recorded_by=user).count() == 6


def test_an_unreadable_file_is_an_error_and_no_import(world, tmp_path):
    with pytest.raises(CommandError, match="cannot be opened"):
        run(str(tmp_path / "none.csv"), "--owner", OWNER)
    with pytest.raises(CommandError, match="Nobody here has the address"):
        run(GOOD, "--owner", OWNER, "--by", "nobody@averhythe.example")


def test_a_place_that_cannot_be_written_to_is_told_before_anything_is_loaded(world, tmp_path):
    with pytest.raises(CommandError, match="cannot be written"):
        run(GOOD, "--owner", OWNER, "--rows-to-fix", str(tmp_path / "no" / "out.csv"))
    assert PipeRun.objects.count() == 0
