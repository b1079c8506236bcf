"""The picture in DEVELOPERS.md shows the rooms and arrows that there are."""

import importlib.util
import sys
from pathlib import Path

import clipmark

ROOT = Path(__file__).parents[2]
SPEC = importlib.util.spec_from_file_location("house", ROOT / ".ci" / "house.py")
house = importlib.util.module_from_spec(SPEC)
sys.modules["house"] = house
SPEC.loader.exec_module(house)


def test_the_picture_in_the_developers_page_is_the_one_that_the_imports_give():
    page = house.PAGE.read_text(encoding="utf-8")

    assert house.page_with(house.picture(house.modules(Path(clipmark.__file__).parent)), page) == page, (
        "run .ci/house.py --picture"
    )


def test_a_circle_is_told_and_an_arrow_that_a_longer_way_tells_is_left_out():
    assert [{"a", "b"}] == house.circles({"a": {"b"}, "b": {"a"}, "c": {"a"}})
    assert {"a": {"b"}, "b": {"c"}, "c": set()} == house._reduced({"a": {"b", "c"}, "b": {"c"}, "c": set()})


def test_neither_modules_nor_rooms_import_each_other_in_a_circle():
    found = house.modules(Path(clipmark.__file__).parent)

    assert [] == house.circles(house.arrows(found, types=False))
    assert [] == house.room_circles(found)
