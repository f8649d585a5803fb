"""How the faces of an enclosure see each other: the rest, repairs, and what is said of them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.enclosed import EVEN, PLATES, REST, TRIANGLE, bay_of, exchanged
from tests.model.small import SMALL, read
from tests.small_models import model_of, solved
from thermnet.errors import InputError
from thermnet.model.assemble import assemble
from thermnet.model.checks import problems_of_network
from thermnet.model.kinds.enclosure import geometry
from thermnet.model.kinds.enclosure_entry import SHAPES, Enclosure
from thermnet.model.kinds.kind import Surroundings
from thermnet.model.shelf import Shelf
from thermnet.physics import view_factors
from thermnet.physics.curves import Floats
from thermnet.physics.view_factors import parallel_rectangles


def refused(bay: str) -> str:
    """What is said of an enclosure whose views cannot be."""
    with pytest.raises(InputError) as caught:
        assemble(model_of(bay_of(bay)), "case")
    (problem,) = caught.value.problems
    assert problem.path == "enclosures.bay"
    return problem.message


def warned(bay: str) -> list[str]:
    """Warnings about an enclosure."""
    model = model_of(bay_of(bay))
    found = problems_of_network(model, assemble(model, "case"))
    assert all(each.severity == "warning" for each in found)
    return [each.message for each in found if each.path == "enclosures.bay"]


def seen_in(bay: str) -> tuple[Floats, Floats]:
    """View factors f8[n, n] that count, and by how much a repair has changed each."""
    entry = model_of(bay_of(bay)).entries(Enclosure, "enclosures")["bay"]
    around = Surroundings(histories={}, means={}, bus_voltage=None, shelf=Shelf())
    found = geometry(entry, around)
    return found.direct.toarray() / found.faces.area[:, None], found.moved.toarray()


def test_what_views_leave_falls_on_the_face_that_takes_the_rest() -> None:
    factor, _ = seen_in(REST)
    lid = parallel_rectangles(0.6, 0.6, 0.2)
    back = 0.36 * (1.0 - lid) / 0.48
    expected = [[0.0, lid, 1.0 - lid], [lid, 0.0, 1.0 - lid], [back, back, 1.0 - 2.0 * back]]
    assert factor == pytest.approx(np.array(expected), rel=1e-12)


def test_the_face_that_takes_the_rest_may_say_how_it_sees_itself() -> None:
    """Its own view is what is left for itself, on top of what it was said to be."""
    own = REST.replace(
        "rest: walls", "  own: {from: walls, to: walls, factor: 0.1}\n    rest: walls"
    )
    assert seen_in(own)[0] == pytest.approx(seen_in(REST)[0], rel=1e-12)


def test_a_hollow_face_sees_itself() -> None:
    """A hemisphere over its base: half of its view falls on itself."""
    found = exchanged("""
    faces:
      dome: {node: hot, area: 2 m2, emittance: 0.5}
      base: {node: cold, area: 1 m2, emittance: 0.8}
    views:
      itself: {from: dome, to: dome, factor: 0.5}
      base: {from: base, to: dome, factor: 1}
    """)
    expected = 1.0 / (0.5 / (0.5 * 2.0) + 1.0 + 0.2 / 0.8)
    assert found == pytest.approx({("cold", "hot"): expected}, rel=1e-12)


ROUGH = TRIANGLE.replace("to: cold, factor: 0.5", "to: cold, factor: 0.49") + (
    "      back: {from: cold, to: hot, factor: 0.53}\n    repair: true\n"
)


def test_a_repair_closes_rough_views_and_tells_by_how_much() -> None:
    """Of 0.49 and 0.53 the mean, 0.51, is too much by 0.01: the repair takes it back."""
    factor, moved = seen_in(ROUGH)
    assert factor == pytest.approx(EVEN, abs=1e-12)
    assert np.abs(moved).max() == pytest.approx(0.01, rel=1e-9)
    assert moved[0, 1] == pytest.approx(-0.01, rel=1e-9)


def test_a_repaired_enclosure_is_not_warned_of() -> None:
    assert warned(ROUGH) == []


def test_rough_views_are_warned_of_by_their_size() -> None:
    rough = ROUGH.replace("    repair: true\n", "").replace("0.53", "0.51")
    (message,) = warned(rough)
    assert message == (
        "'hot' and 'cold' see each other by view factors that miss reciprocity by 0.0200; the mean "
        "of both ways is taken"
    )


def test_faces_that_look_at_nothing_are_warned_of_and_lose_no_energy() -> None:
    gap = TRIANGLE.replace("to: cold, factor: 0.5", "to: cold, factor: 0.4")
    (message,) = warned(gap)
    assert message == (
        "face 'hot' looks at nothing with 0.1000 of its view, which takes part in no exchange: "
        "name a face that takes the `rest`, an opening, or say `repair: true`"
    )
    solved(bay_of(gap))  # the account closes


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            "to: cold, factor: 0.5", "to: cold, factor: 0.6",
            "the view factors of face 'hot' sum to 1.1000: check them and the areas, or say `rep",
        ),
        (
            "to: hot, factor: 0.5}", "to: hot, factor: 0.6}\n    rest: cold",
            "the view factors of face 'hot' sum to 1.100000: check them and the areas",
        ),
        (
            "b: {from: cold, to: mild, factor: 0.5}\n      c: {from: mild, to: hot, factor: 0.5}",
            "own: {from: mild, to: mild, factor: 0.5}\n    rest: mild",
            "the views of the others upon 'mild' take 1.5000 of its area: it is too small",
        ),
        (
            "b: {from: cold, to: mild, factor: 0.5}\n      c: {from: mild, to: hot, factor: 0.5}",
            "own: {from: hot, to: hot, factor: 0.5}\n    repair: true",
            "face 'mild' sees nothing: no repair closes it",
        ),
        (
            "c: {from: mild, to: hot, factor: 0.5}",
            "c: {from: mild, to: hot, factor: 0.5}\n      d: {from: hot, to: mild, factor: 0}",
            "'hot' and 'mild' see each other by view factors that miss reciprocity by 0.5000: c",
        ),
    ],
)  # fmt: skip
def test_views_that_cannot_be_are_refused(old: str, new: str, message: str) -> None:
    assert old in TRIANGLE
    assert refused(TRIANGLE.replace(old, new)).startswith(message)


def test_areas_that_no_repair_can_close_are_refused() -> None:
    unlike = PLATES.replace("two: {node: cold, area: 2 m2", "two: {node: cold, area: 3 m2")
    unlike = unlike.replace("parallel_plates: {area: 2 m2}", "factor: 1")
    message = refused(unlike + "    repair: true")
    assert message.startswith("no factors make every row sum to its area (a row is still off by ")


def test_radiation_that_is_caught_between_insulated_faces_is_refused() -> None:
    message = refused("""
    faces:
      one: {area: 1 m2, reradiating: true}
      two: {area: 1 m2, reradiating: true}
    views:
      one to two: {from: one, to: two, factor: 1}
    """)
    assert message.startswith("radiation is caught")


def test_a_repair_that_changes_much_is_warned_of() -> None:
    """Two faces that see each other with 0.1 alone close only with 1."""
    model = read(
        SMALL.replace(
            "links:\n",
            "enclosures:\n  own:\n    repair: true\n    faces:\n"
            "      one: {node: box, area: 1, emittance: 0.5}\n"
            "      two: {node: plate, area: 1, emittance: 0.5}\n"
            "    views: {a: {from: one, to: two, factor: 0.1}}\nlinks:\n",
        )
    )
    (found,) = [
        each for each in problems_of_network(model, assemble(model, "mean"))
        if each.path == "enclosures.own"
    ]  # fmt: skip
    assert "changes how 'one' sees 'two' by 0.900" in found.message


BY_SHAPE = {
    # keys of the shape, areas of `from` and `to` [m2], view factor
    "parallel_rectangles": (
        "width: 2 m, height: 1 m, gap: 1 m", 2.0, 2.0, parallel_rectangles(2.0, 1.0, 1.0),
    ),
    "perpendicular_rectangles": (
        "edge: 2 m, from_depth: 1 m, to_depth: 3 m", 2.0, 6.0,
        view_factors.perpendicular_rectangles(2.0, 1.0, 3.0),
    ),
    "coaxial_discs": (
        "from_radius: 1 m, to_radius: 2 m, gap: 3 m", math.pi, 4.0 * math.pi,
        view_factors.coaxial_discs(1.0, 2.0, 3.0),
    ),
    "concentric_spheres": (
        "inner_radius: 1 m, outer_radius: 2 m", 4.0 * math.pi, 16.0 * math.pi, 1.0,
    ),
    "coaxial_cylinders": (
        "inner_radius: 1 m, outer_radius: 2 m, length: 3 m", 6.0 * math.pi, 12.0 * math.pi, 1.0,
    ),
    "parallel_plates": ("area: 2 m2", 2.0, 2.0, 1.0),
    "parallel_strips": (
        "width: 1 m, length: 9 m, gap: 0.5 m", 9.0, 9.0,
        view_factors.long_parallel_strips(1.0, 0.5),
    ),
    "wedge": (
        "width: 1 m, length: 9 m, angle: 50 deg", 9.0, 9.0, view_factors.wedge(math.radians(50.0)),
    ),
    "sphere_to_disc": (
        "sphere_radius: 1 m, disc_radius: 2 m, distance: 3 m", 4.0 * math.pi, 4.0 * math.pi,
        view_factors.sphere_to_disc(2.0, 3.0),
    ),
    "plate_to_disc": (
        "radius: 2 m, distance: 3 m", 0.01, 4.0 * math.pi, view_factors.plate_to_disc(2.0, 3.0),
    ),
    "plate_to_rectangle": (
        "width: 2 m, height: 1 m, distance: 3 m, across: 0.5 m, along: -1 m", 0.01, 2.0,
        view_factors.plate_to_rectangle(2.0, 1.0, 3.0, 0.5, -1.0),
    ),
    "plate_to_sphere": (
        "radius: 1 m, distance: 2 m, angle: 30 deg", 0.01, 4.0 * math.pi,
        math.cos(math.radians(30.0)) / 4.0,
    ),
}  # fmt: skip


def test_every_shape_is_held_to_its_view_factor() -> None:
    assert set(BY_SHAPE) == set(SHAPES)


@pytest.mark.parametrize("shape", SHAPES)
def test_a_shape_of_the_file_has_the_factor_of_its_formula(shape: str) -> None:
    keys, looks, sees, expected = BY_SHAPE[shape]
    bay = f"""
    faces:
      one: {{node: hot, area: {looks} m2, emittance: 1}}
      two: {{node: cold, area: {sees} m2, emittance: 1}}
    views:
      shape: {{from: one, to: two, {shape}: {{{keys}}}}}
    """
    factor, _ = seen_in(bay)
    assert factor[0, 1] == pytest.approx(expected, rel=1e-12)
    assert factor[1, 0] == pytest.approx(expected * looks / sees, rel=1e-12)


def test_a_small_plate_is_before_the_middle_of_a_rectangle_unless_said() -> None:
    bay = """
    faces:
      one: {node: hot, area: 0.01 m2, emittance: 1}
      two: {node: cold, area: 2 m2, emittance: 1}
    views:
      shape: {from: one, to: two, plate_to_rectangle: {width: 2 m, height: 1 m, distance: 3 m}}
    """
    expected = view_factors.plate_to_rectangle(2.0, 1.0, 3.0, 1.0, 0.5)
    assert seen_in(bay)[0][0, 1] == pytest.approx(expected, rel=1e-12)
