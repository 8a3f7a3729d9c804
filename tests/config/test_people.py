"""Who may text: a file that cannot be right is refused with file, key and reason."""

from dataclasses import replace
from pathlib import Path

import pytest

from bot.config.people import People
from bot.demo.seed import PEOPLE
from bot.message import Person
from knowledge.sourced import DataError

SAM = '[[person]]\nnumber = "+447700900123"\nname = "Sam"\nrole = "fitter"\nsite = "Larch Street"\n'


def load(tmp_path: Path, text: str) -> People:
    file = tmp_path / "people.toml"
    file.write_text(text)
    return People.load(file)


def test_a_person_is_found_by_number_and_a_stranger_is_not(tmp_path: Path) -> None:
    people = load(tmp_path, SAM + '[[site]]\nname = "Larch Street"\nrulebook = "us"\n')
    sam = people.find("+447700900123")
    assert sam is not None and (sam.name, sam.role) == ("Sam", "fitter")
    assert people.site(sam.site).rulebook == "us"
    assert people.find("+447700900999") is None


def test_guests_stand_beside_the_crew_of_their_site_and_the_list_stays_as_it_was() -> None:
    sam, pat = (
        Person("+447700900123", "Sam", "fitter", "Larch"),
        Person("+447700900177", "Pat", "fitter", "Elm"),
    )
    listed = People([sam])
    joined = listed.joined_by([pat])
    assert joined.on_site("Elm") == (pat,)
    assert joined.on_site("Larch") == (sam,)
    assert listed.joined_by([pat]) is joined
    assert listed.joined_by([]) is listed
    assert listed.joined_by([replace(pat, site="Larch")]).on_site("Larch") == (
        sam,
        replace(pat, site="Larch"),
    )
    assert listed.on_site("Elm") == ()


def test_a_site_without_a_table_has_the_usual_terms(tmp_path: Path) -> None:
    site = load(tmp_path, SAM).site("Larch Street")
    assert (site.name, site.rulebook, site.kit) == ("Larch Street", "uk", None)


@pytest.mark.parametrize(
    ("text", "named"),
    [
        (SAM.replace("fitter", "foreman"), "person.0.role"),
        (SAM.replace("+44", "0044"), "person.0.number"),
        (SAM.replace("site =", "sight ="), "person.0.site"),
        (SAM + SAM, "+447700900123 is listed twice"),
        ('[[site]]\nname = "X"\nzone = "Mars/North"\n', "site.0.zone"),
        ('[[site]]\nname = "X"\nshift_end = "25:00"\n', "site.0.shift_end"),
        ('[[site]]\nname = "X"\nrulebook = "fr"\n', "site.0.rulebook"),
        ('[[site]]\nname = "X\\u202e"\n', "site.0.name"),
        ("[[person", "not valid TOML"),
    ],
)
def test_a_file_that_cannot_be_right_is_refused(tmp_path: Path, text: str, named: str) -> None:
    with pytest.raises(DataError) as error:
        load(tmp_path, text)
    assert str(error.value).startswith("people.toml: ") and named in str(error.value)


def test_a_kit_that_nobody_knows_is_refused(tmp_path: Path) -> None:
    people = load(tmp_path, '[[site]]\nname = "X"\nkit = "lihgt"\n')
    with pytest.raises(DataError, match="site X: kit: 'lihgt' is none of light, heavy"):
        people.check_kits(["light", "heavy"])


def test_the_demo_crew_has_only_numbers_set_aside_for_fiction() -> None:
    # Ofcom, telephone numbers for drama use: mobile 07700 900000 to 900999.
    numbers = [person.number for person in People.load(PEOPLE)]
    assert {"+447700900123", "+447700900124"} <= set(numbers)
    assert all(number.startswith("+447700900") and len(number) == 13 for number in numbers)
