"""Pictures: do they show the right thing, at the right place, in colours that everyone can read?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.collections import LineCollection, PolyCollection
from matplotlib.figure import Figure

from tests.made_arms import (
    made_arm,
    made_arm_result,
    made_distortion,
    made_filled,
    made_panel,
    made_piece,
)
from unroll.flat import distortion as distortion_stage
from unroll.flat.distortion import sewn_distortion
from unroll.maths.triangles import area_percentile, corner_means, vertex_normals
from unroll.nouns import Cloth, Make, MakeResult, Sheet
from unroll.show.colours import (
    GIVE_RAMP,
    PIECE_COLOURS,
    SIGNED_RAMP,
    give_at_vertices,
    give_percent,
    heat_legend,
    heat_top,
    hex_of,
    oklab_to_srgb,
    png_bytes,
    ramp_colours,
    rgb_of,
    srgb_to_linear,
)
from unroll.show.figures import models_of
from unroll.show.models import arm_model, filled_model, gap_legend, gap_span
from unroll.show.pictures import arm_figure, heat_figure, named_view, paint, pieces_figure

RESULT = made_arm_result(rings=24)
OUTER = RESULT.to_cut[0]
MODEL = arm_model(RESULT.arm, RESULT.distortions)

# Machado, Oliveira & Fernandes 2009 (doi 10.1109/TVCG.2009.113), full severity, linear RGB.
# Quoted from memory; the rows add up to 1, as white must stay white.
COLOUR_BLIND = {
    "protanopia": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216],
                   [-0.003882, -0.048116, 1.051998]],
    "deuteranopia": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413],
                     [-0.011820, 0.042940, 0.968881]],
    "tritanopia": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602],
                   [0.004733, 0.691367, 0.303900]],
}  # fmt: skip


def _lightness(linear: np.ndarray) -> np.ndarray:
    """CIE L* of linear RGB (IEC 61966-2-1 luminance, CIE 1976 lightness)."""
    y = np.clip(linear @ [0.2126, 0.7152, 0.0722], 0, 1)
    return np.where(y > 216 / 24389, 116 * np.cbrt(y) - 16, y * 24389 / 27)


def test_oklab_agrees_with_published_colours() -> None:
    # CSS Color 4 gives these for white and for red (quoted from memory, four figures).
    lab = np.array([[1.0, 0.0, 0.0], [0.62796, 0.22486, 0.12585]])
    assert np.allclose(oklab_to_srgb(lab), [[1, 1, 1], [1, 0, 0]], atol=2e-3)


@pytest.mark.parametrize("sight", [None, *COLOUR_BLIND])
def test_the_ramp_darkens_steadily_for_every_kind_of_sight(sight: str | None) -> None:
    linear = srgb_to_linear(GIVE_RAMP)
    if sight:
        linear = np.clip(linear @ np.array(COLOUR_BLIND[sight]).T, 0, 1)
    tenths = _lightness(linear)[np.linspace(0, 255, 11).round().astype(int)]
    # A step of 3 in L* is about what can be told apart side by side on a screen.
    assert np.all(np.diff(tenths) < -3)


def test_ramp_colours_clip_at_both_ends() -> None:
    got = ramp_colours(np.array([-5.0, 0.0, 10.0, 50.0]), 0.0, 10.0, GIVE_RAMP)
    assert np.array_equal(got, GIVE_RAMP[[0, 0, -1, -1]])


def test_hex_colours_come_back() -> None:
    assert hex_of(rgb_of("#a3362b")) == "#a3362b"


def test_the_heat_map_shows_the_number_that_the_advice_goes_by() -> None:
    for distortion in RESULT.distortions.values():
        assert np.allclose(
            give_percent(distortion), distortion_stage.thread_give_percent(distortion), rtol=1e-12
        )


def test_area_percentiles_agree_with_those_of_the_advice() -> None:
    values = np.random.default_rng(3).normal(size=200)
    weights = np.random.default_rng(4).uniform(0.1, 1.0, size=200)
    for percent in (0.0, 1.0, 50.0, 99.0, 100.0):
        expected = distortion_stage.percentiles_by_area(values, weights, percent)
        assert area_percentile(values, weights, percent) == float(expected)


def test_a_stretched_thread_gives_its_percent() -> None:
    distortion = RESULT.distortions["inner"]
    longer = type(distortion)(
        distortion.flattening, distortion.stretch_max, distortion.stretch_min,
        np.full_like(distortion.warp, 1.05), np.ones_like(distortion.weft), distortion.shear_rad,
        distortion.area_ratio, distortion.weights, {},
    )  # fmt: skip
    assert np.allclose(give_percent(longer), 5.0)


def test_too_short_weighs_as_much_as_too_long() -> None:
    d = RESULT.distortions["inner"]
    other = type(d)(d.flattening, d.stretch_max, d.stretch_min, 1 / d.warp, 1 / d.weft,
                    d.shear_rad, d.area_ratio, d.weights, {})  # fmt: skip
    assert np.allclose(give_percent(other), give_percent(d))


def test_corner_means_weigh_by_area_and_leave_lone_vertices_at_zero() -> None:
    faces = np.array([[0, 1, 2], [0, 2, 3]])
    got = corner_means(np.array([1.0, 4.0]), np.array([2.0, 1.0]), faces, 5)
    assert np.allclose(got, [2.0, 1.0, 2.0, 4.0, 0.0])


def test_a_vertex_on_no_face_gets_an_upward_normal() -> None:
    vertices = np.array([[0.0, 0, 0], [0, 1, 0], [0, 0, 1], [9, 9, 9]])
    got = vertex_normals(vertices, np.array([[0, 1, 2]]))
    assert np.allclose(got, [[1, 0, 0]] * 3 + [[0, 0, 1]])


def test_the_shared_scale_holds_99_percent_of_every_piece_and_twice_the_limit() -> None:
    top = heat_top(RESULT.distortions.values(), 3.0)
    for distortion in RESULT.distortions.values():
        over = give_percent(distortion) > top
        assert distortion.weights[over].sum() <= 0.01
    assert top >= 6.0
    assert heat_top([], 3.0) == 6.0
    assert heat_top([], 500.0) == 100.0


def test_the_legend_names_the_limit_and_spans_the_ramp() -> None:
    legend = heat_legend(8.0, 3.0)
    assert "3 %" in legend.title
    assert legend.stops[0] == hex_of(GIVE_RAMP[0]) and legend.stops[-1] == hex_of(GIVE_RAMP[-1])
    assert [place for place, _ in legend.ticks] == [0.0, 0.25, 0.5, 0.75, 1.0]
    assert legend.ticks[2][1] == "4"


def test_the_model_is_the_arms_surface_whole() -> None:
    corners = MODEL.vertices[MODEL.faces]
    volume = np.einsum("ij,ij->", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])) / 6
    whole = RESULT.arm.mesh.vertices[RESULT.arm.mesh.faces]
    expected = np.einsum("ij,ij->", whole[:, 0], np.cross(whole[:, 1], whole[:, 2])) / 6
    assert volume == pytest.approx(expected, rel=1e-12) and volume > 0
    covered = np.sort(np.concatenate(list(MODEL.groups.values())))
    assert np.array_equal(covered, np.arange(len(RESULT.arm.mesh.faces)))


def test_the_models_normals_point_outward_and_stay_crisp_at_the_plates() -> None:
    corners = MODEL.vertices[MODEL.faces]
    flat = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    assert np.all(np.einsum("ij,ikj->ik", flat, MODEL.normals[MODEL.faces]) > 0)
    plate = MODEL.faces[MODEL.groups["armhole plate"]].ravel()
    assert np.allclose(MODEL.normals[plate], [0, 0, 1])


def test_the_heat_look_colours_each_vertex_by_its_heat() -> None:
    heat = MODEL.looks[1]
    top = heat_top(RESULT.distortions.values(), 3.0)
    expected = ramp_colours(give_at_vertices(RESULT.distortions["outer"]), 0.0, top, GIVE_RAMP)
    assert np.array_equal(heat.colours[: len(expected)], expected)
    assert heat.legend is not None and MODEL.looks[0].legend is None


def test_an_arm_that_is_not_flattened_yet_has_no_heat_look() -> None:
    model = arm_model(RESULT.arm, {})
    assert [look.name for look in model.looks] == ["pieces and seams"]
    assert len(model.vertices) < len(MODEL.vertices)  # no slit without a cut panel


def test_models_hang_as_in_the_room() -> None:
    lean = np.radians(10.0)  # of the armhole: its underarm lies further in
    up = np.array([0.0, -np.sin(lean), np.cos(lean)])
    arm = replace(RESULT, wanted=replace(RESULT.wanted, up=up))
    sheet = Sheet((arm.measures,), Cloth(), Make())
    plain, hung = (models_of(MakeResult(sheet, (one,), "0"), one)[0] for one in (RESULT, arm))
    np.testing.assert_allclose(hung.vertices @ [0.0, 0.0, 1.0], plain.vertices @ up, atol=1e-9)
    np.testing.assert_allclose(hung.normals[:, 2], plain.normals @ up, atol=1e-9)
    for one, other in zip(hung.lines, plain.lines, strict=True):
        np.testing.assert_allclose(one.points[:, 2], other.points @ up, atol=1e-9)


def test_a_filled_shape_is_shown_whole_with_its_stand_off() -> None:
    sewn, off = made_filled(RESULT.arm)
    model = filled_model("sewn", sewn, off, span=4.0)
    corners = model.vertices[model.faces]
    flat = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    assert np.all(np.einsum("ij,ikj->ik", flat, model.normals[model.faces]) > 0)
    assert len(model.faces) == len(sewn.mesh.faces)
    plain, gaps = model.looks
    outer = model.faces[model.groups["outer"]].ravel()
    assert np.allclose(plain.colours[outer], rgb_of(PIECE_COLOURS["outer"]))
    is_cap = model.vertices[:, 2] > -100.0
    # 3 mm of 4 is seven eighths of the way from -4 to 4.
    assert np.allclose(gaps.colours[is_cap], SIGNED_RAMP[round(256 * 7 / 8)])
    assert np.allclose(gaps.colours[~is_cap], rgb_of("#d9d5cd"))
    assert {line.name for line in model.lines} == set(sewn.seam_paths)


def test_what_a_sewn_piece_asks_is_read_between_its_flat_and_its_filled_place() -> None:
    """The made sewn arm is the arm itself, flat as its panels: the two readings must agree."""
    sewn, off = made_filled(RESULT.arm)
    asked = {name: sewn_distortion(sewn, name) for name in ("outer", "inner")}
    for name, found in asked.items():
        laid = RESULT.distortions[name]
        for field in ("stretch_max", "stretch_min", "area_ratio", "weights"):
            assert np.allclose(getattr(found, field), getattr(laid, field)), field
        # the dart's legs lie apart on the piece, together on the arm
        assert len(found.flattening.points) == len(laid.flattening.points)
    model = filled_model("sewn", sewn, off, span=4.0, asked=asked)
    assert [look.name for look in model.looks] == ["pieces and seams", "heat map", "distance"]
    ends = model.faces[model.groups["armhole plate"]].ravel()
    assert np.allclose(model.looks[1].colours[ends], model.looks[0].colours[ends])
    top = heat_top(asked.values(), 3.0)
    inner = corner_means(
        give_percent(asked["inner"]), asked["inner"].weights,
        asked["inner"].flattening.panel.mesh.faces, len(asked["inner"].flattening.points),
    )  # fmt: skip
    shown = model.looks[1].colours[np.unique(model.faces[model.groups["inner"]])]
    wanted = ramp_colours(inner, 0.0, top, GIVE_RAMP)
    assert np.allclose(np.sort(shown[:, 0]), np.sort(wanted[:, 0]))


def test_the_stand_offs_scale_is_round_even_and_holds_all_shapes() -> None:
    low, high = (made_filled(RESULT.arm, bulge)[1] for bulge in (-3.0, 5.0))
    assert gap_span([low]) == 4.0 and gap_span([low, high]) == 6.0
    legend = gap_legend(6.0)
    assert [text for _, text in legend.ticks] == ["\u22126", "\u22123", "0", "+3", "+6"]
    assert len(legend.stops) == 17
    quarter = gap_span([low, high], "in")
    assert quarter == 0.25 * 25.4
    told = gap_legend(quarter, "in")
    assert [text for _, text in told.ticks] == ["\u22121/4", "\u22121/8", "0", "+1/8", "+1/4"]
    assert told.title.startswith("inches from")


def test_stand_off_is_equally_dark_at_equal_amounts_either_way() -> None:
    lightness = _lightness(srgb_to_linear(SIGNED_RAMP))
    assert np.abs(lightness - lightness[::-1]).max() < 6
    assert np.all(np.diff(lightness[:129]) > 0) and np.all(np.diff(lightness[128:]) < 0)


def test_lines_that_are_not_sewn_are_not_drawn_as_seams() -> None:
    arm = made_arm()
    middle = {**arm.paths, "outer middle": arm.paths["front seam"]}
    other = type(arm)(arm.side, arm.mesh, arm.panel_faces, middle, arm.stations, arm.landmarks)
    names = [line.name for line in arm_model(other, {}).lines]
    assert "front seam" in names and "dart 1" in names and "outer middle" not in names


@pytest.mark.parametrize("side", ["left", "right"])
def test_the_outside_view_shows_the_outside_upright(side: str) -> None:
    view = named_view("outside", side)
    outward = 1.0 if side == "left" else -1.0
    assert np.allclose(view.toward, [0, outward, 0]) and np.allclose(view.up, [0, 0, 1])
    # Right-handed: what is seen is not a mirror image.
    assert np.allclose(np.cross(view.right, view.up), view.toward)
    # The wearer's front is on the viewer's left of a left arm, on the right of a right arm.
    assert view.right[0] == pytest.approx(-outward)


def test_an_unknown_view_is_refused() -> None:
    with pytest.raises(KeyError, match="underneath"):
        named_view("underneath", "left")


def _painted(view: str) -> tuple[np.ndarray, list[int]]:
    axes = Figure().add_axes((0, 0, 1, 1))
    paint(axes, MODEL, MODEL.looks[0], named_view(view, "left"), shift=np.zeros(2))
    faces = next(c for c in axes.collections if isinstance(c, PolyCollection))
    runs = [len(c.get_segments()) for c in axes.collections if isinstance(c, LineCollection)]
    return faces.get_facecolor(), runs


def test_only_what_faces_the_eye_is_painted() -> None:
    colours, runs = _painted("outside")
    count = len(MODEL.faces)
    assert 0.3 * count < len(colours) < 0.6 * count
    by_name = dict(zip([line.name for line in MODEL.lines], runs, strict=True))
    assert by_name["dart 1"] == 1  # on the outside
    # From outside nothing but the outer piece is seen: all colours are shades of its own.
    shades = colours[:, :3] / rgb_of(PIECE_COLOURS["outer"])
    assert np.allclose(shades, shades[:, :1], atol=1e-9)
    _, runs = _painted("inside")
    by_name = dict(zip([line.name for line in MODEL.lines], runs, strict=True))
    assert by_name["dart 1"] == 0


def test_the_armholes_edge_shows_wherever_the_plate_does() -> None:
    # Seen from above, the plate hides nothing of its own edge, though the arm's side turns away.
    _, runs = _painted("cap")
    by_name = dict(zip([line.name for line in MODEL.lines], runs, strict=True))
    assert by_name["underarm seam"] == 1 and by_name["cap seam"] == 1
    assert by_name["inner wrist"] == 0


def test_the_arm_is_drawn_at_one_scale_across_and_down() -> None:
    figure = arm_figure(MODEL)
    axes = figure.axes[0]
    wide, high = np.diff(axes.get_xlim())[0], np.diff(axes.get_ylim())[0]
    assert figure.get_figwidth() / wide == pytest.approx(figure.get_figheight() / high)
    bar = next(line for line in axes.lines)
    assert np.ptp(bar.get_xdata()) == pytest.approx(100.0)


def test_views_of_the_arm_do_not_run_into_each_other() -> None:
    axes = arm_figure(MODEL).axes[0]
    spans = []
    for collection in axes.collections:
        if isinstance(collection, PolyCollection):
            x = np.concatenate([path.vertices[:, 0] for path in collection.get_paths()])
            spans.append((x.min(), x.max()))
    assert len(spans) == 8
    assert all(right < left for (_, right), (left, _) in zip(spans, spans[1:], strict=False))


def test_the_heat_figure_has_its_colour_bar_lines_and_a_bar_of_50_mm() -> None:
    distortion = RESULT.distortions["outer"]
    figure = heat_figure(distortion, OUTER, gives_percent=3.0, top=20.0)
    axes, bar = figure.axes
    named = [text.get_text() for text in axes.texts]
    assert set(distortion.flattening.panel.traces) <= set(named)
    mesh = axes.collections[0]
    assert mesh.get_clim() == (0.0, 20.0)
    assert any(np.isclose(np.ptp(line.get_xdata()), 50.0) and line.get_linewidth() == 2.5
               for line in axes.lines)  # fmt: skip
    assert [label.get_text() for label in bar.get_xticklabels()][-1] == "20 or more"


def test_the_limit_is_outlined_only_where_the_piece_crosses_it() -> None:
    distortion = RESULT.distortions["outer"]
    most = give_percent(distortion).max()
    crossed = heat_figure(distortion, OUTER, gives_percent=3.0).axes[0].collections
    never = heat_figure(distortion, OUTER, gives_percent=2 * most).axes[0].collections
    assert len(crossed) == len(never) + 1


def test_dart_legs_are_drawn_in_their_own_colour() -> None:
    lines = heat_figure(RESULT.distortions["outer"], OUTER).axes[0].lines
    assert sum(line.get_color() == "#a3362b" for line in lines) == 2


def test_the_pieces_figure_keeps_every_area_and_scale() -> None:
    pieces = RESULT.pieces["unrolled"]
    figure = pieces_figure(pieces)
    axes = figure.axes[0]
    for patch, piece in zip(axes.patches, pieces, strict=True):
        x, y = patch.get_xy()[:-1].T
        area = 0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))
        assert area == pytest.approx(piece.area)
    wide, high = np.diff(axes.get_xlim())[0], np.diff(axes.get_ylim())[0]
    assert figure.get_figwidth() / wide == pytest.approx(figure.get_figheight() / high)


def test_a_right_arms_pieces_are_drawn_too() -> None:
    right = made_arm_result("right", rings=24)
    assert np.allclose(
        right.distortions["outer"].area_ratio.sum(), RESULT.distortions["outer"].area_ratio.sum()
    )
    assert png_bytes(pieces_figure(right.pieces["unrolled"])).startswith(b"\x89PNG")


def test_pictures_repeat_byte_for_byte() -> None:
    distortion = made_distortion(made_panel(made_arm(rings=12), "inner"))
    piece = made_piece(distortion, "left")
    first, second = (png_bytes(heat_figure(distortion, piece)) for _ in range(2))
    assert first == second
    assert b"Matplotlib" not in first
