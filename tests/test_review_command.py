"""``motiffit review``: what it is started with, and what it prints."""

import shlex
import sys

import pytest
from records import Case, make_sizing

from motiffit.cli.app import main
from motiffit.cli.review import REVIEW_EPILOG
from motiffit.ledger import Ledger
from motiffit.review.running import Started
from motiffit.settings import Settings

EXAMPLES = [line.strip() for line in REVIEW_EPILOG.splitlines() if "motiffit review" in line]


@pytest.fixture
def asked(tmp_path, monkeypatch):
    """Run in a folder with a folder 'photos'; the server only says what it was asked."""
    (tmp_path / "photos").mkdir()
    monkeypatch.chdir(tmp_path)
    calls = []

    def serve(ledger, settings, **more):
        far = "http://192.0.2.7:1/enter/y" if more["lan"] else None
        more["ready"](Started(link="http://127.0.0.1:1/enter/x", phone_link=far, phone_code="CODE"))
        calls.append((ledger, settings, more))

    monkeypatch.setattr("motiffit.review.running.serve_review", serve)
    monkeypatch.setattr("typer.launch", lambda link: calls.append(link))
    return calls


def run(*words):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys, "argv", ["motiffit", *words])
        with pytest.raises(SystemExit) as end:
            main()
    return int(end.value.code or 0)


@pytest.mark.parametrize("example", EXAMPLES)
def test_the_examples_start_the_page(asked, example):
    assert run(*shlex.split(example)[1:]) == 0
    link, (ledger, _, more) = asked
    assert link == "http://127.0.0.1:1/enter/x"
    assert ledger.folder.name in ("photos", "")
    assert more["lan"] == ("--lan" in example)


def test_the_link_goes_to_stdout_and_the_phone_is_warned(asked, capfd):
    run("review", "photos", "--lan", "--no-browser")
    out, err = capfd.readouterr()
    assert err == ""
    assert "http://127.0.0.1:1/enter/x" in out
    assert "http://192.0.2.7:1/enter/y" in out
    assert "CODE" in out
    assert "Anyone who has it on this network can see the photos" in out.replace("\n", " ")
    assert len(asked) == 1, "no browser was opened"


def test_without_lan_no_address_leads_here_from_outside(asked, capfd):
    run("review", "photos", "--no-browser")
    assert "192.0.2.7" not in capfd.readouterr().out
    assert asked[0][2]["lan"] is False


def test_a_new_pile_takes_the_settings_given_and_an_old_one_its_own(asked):
    run("review", "photos", "--units", "cm", "--no-browser")
    assert asked[0][1].units == "cm"
    ledger = Ledger.open("photos")
    (ledger.folder / "a.jpg").write_bytes(b"a")
    settings = Settings(clearance_mm=9.0)
    sizing = make_sizing(Case(photo="a.jpg", settings=settings))
    ledger.write("a.jpg", sizing, photo_hash="0", settings=settings)
    run("review", "photos", "--units", "cm", "--no-browser")
    assert asked[1][1] == settings


def test_a_folder_that_is_not_there_is_named(asked, capfd):
    assert run("review", "nowhere") == 2
    assert "there is no folder nowhere" in capfd.readouterr().err
    assert asked == []


def test_the_missing_extra_is_named_with_its_cure(asked, monkeypatch, capfd):
    monkeypatch.setitem(sys.modules, "motiffit.review.running", None)
    assert run("review", "photos") == 2
    assert "pip install '.[review]'" in capfd.readouterr().err
