"""Are the demo parts what their scripts say, and could they be cut?"""

from __future__ import annotations

import importlib.util
import itertools
import json
import math
import struct
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation
from shapely import LineString, Point, Polygon, box

from steadyrest.toolpath import ARC_CLOCKWISE, ARC_COUNTERCLOCKWISE, RAPID, Holes, MoveColumns, load_toolpath

DEMO = Path(__file__).parents[3] / "demo"
ALONG_X = ("distributor", "coast_roller", "twisted_vane")
PARTS = (*ALONG_X, "helm_boss")
UNITS = {"mm": "", "inch": "-inch"}
Floats = NDArray[np.float64]


@cache
def module_at(path: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"demo_{path.parent.name}_{path.stem}", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def script(part: str) -> ModuleType:
    return module_at(DEMO / part / "make_toolpath.py")


@cache
def made_toolpath(part: str) -> dict[str, Any]:
    made: dict[str, Any] = script(part).toolpath()
    return made


def file_of(part: str, units: str = "mm") -> Path:
    return DEMO / part / f"{part}{UNITS[units]}.toolpath.json"


@cache
def read(part: str, units: str = "mm") -> dict[str, Any]:
    data: dict[str, Any] = json.loads(file_of(part, units).read_text(encoding="utf-8"))
    return data


def operation(part: str, name: str) -> dict[str, Any]:
    found: dict[str, Any]
    (found,) = [operation for operation in read(part)["operations"] if operation["name"] == name]
    return found


def rows(operation: dict[str, Any]) -> dict[str, Floats]:
    """A table's columns, its blocks joined."""
    table = operation["table"]
    tables = table if isinstance(table, list) else [table]
    return {name: np.concatenate([block[name] for block in tables]) for name in tables[0]}


def leaves(value: Any, path: str = "", key: str = "") -> dict[str, tuple[str, Any]]:
    """Every number and text in a file by its place, with the name of the key it stands under."""
    if isinstance(value, dict):
        return {k: v for name, part in value.items() for k, v in leaves(part, f"{path}/{name}", name).items()}
    if isinstance(value, list):
        return {k: v for n, part in enumerate(value) for k, v in leaves(part, f"{path}/{n}", key).items()}
    return {path: (key, value)}


def along_arcs(moves: list[dict[str, Any]], chord_error: float = 1e-4) -> Floats:
    """The path of cuts and arcs in XY as points (n, 2), arcs divided finely."""
    points: list[Floats] = []
    for move in moves:
        if "arc" not in move:
            points.append(np.array((move.get("rapid") or move["cut"])[:2]))
            continue
        centre, end = np.array(move["centre"][:2]), np.array(move["arc"][:2])
        first, last = points[-1] - centre, end - centre
        radius = math.hypot(*first)
        sweep = math.atan2(first[0] * last[1] - first[1] * last[0], first @ last)
        if move["turns"] == "counterclockwise" and sweep <= 1e-9:
            sweep += 2 * math.pi
        if move["turns"] == "clockwise" and sweep >= -1e-9:
            sweep -= 2 * math.pi
        count = math.ceil(abs(sweep) / math.sqrt(8 * chord_error / radius)) + 1
        angles = math.atan2(first[1], first[0]) + np.linspace(0, sweep, count)[1:]
        points += list(centre + radius * np.column_stack([np.cos(angles), np.sin(angles)]))
    return np.array(points)


# All parts


@pytest.mark.parametrize("units", UNITS)
@pytest.mark.parametrize("part", PARTS)
def test_the_script_makes_the_committed_file(part: str, units: str, tmp_path: Path) -> None:
    folder = tmp_path / part
    folder.mkdir()
    script(part).write_both(folder, made_toolpath(part))
    text = (folder / file_of(part, units).name).read_text(encoding="utf-8")
    if text == file_of(part, units).read_text(encoding="utf-8"):
        return
    made, committed = leaves(json.loads(text)), leaves(read(part, units))
    assert committed.keys() == made.keys()
    # Sine and cosine may differ in their last bit from machine to machine: one unit of the last decimal is allowed.
    least = {"mm": 1e-4, "inch": 1e-5}[units]
    texts = [place for place, (_, value) in committed.items() if isinstance(value, str)]
    numbers = [place for place in committed if not isinstance(committed[place][1], str)]
    assert [committed[place] for place in texts] == [made[place] for place in texts]
    expected, actual = (np.array([values[place][1] for place in numbers], float) for values in (committed, made))
    np.testing.assert_allclose(actual, expected, rtol=0, atol=1.01 * least)


@pytest.mark.parametrize("units", UNITS)
@pytest.mark.parametrize("part", PARTS)
def test_every_move_loads(part: str, units: str) -> None:
    toolpath = load_toolpath(file_of(part, units))
    assert units == toolpath.units
    for number, operation in enumerate(toolpath.operations):
        expected = read(part, units)["operations"][number]
        count = sum(len(item) if isinstance(item, MoveColumns | Holes) else 1 for item in operation.stream())
        assert (len(expected["moves"]) if "moves" in expected else len(rows(expected)["x"])) == count


@pytest.mark.parametrize("part", PARTS)
def test_the_inch_file_is_the_same_part(part: str) -> None:
    mm, inch = leaves(read(part, "mm")), leaves(read(part, "inch"))
    assert mm.keys() == inch.keys()
    lengths = {"rapid", "cut", "arc", "centre", "hole", "retract", "bottom", "peck", "pitch", "x", "y", "z"}
    lengths |= {"diameter", "cutting_length", "length", "tip_diameter", "from", "to", "origin"}
    seen = set()
    for place, (key, value) in mm.items():
        other = inch[place][1]
        seen.add(key)
        direction = "/planes/" in place and key != "origin"
        if key in lengths and not direction:
            assert pytest.approx(value / 25.4, rel=0, abs=1.5e-5) == other, place  # both rounded, by half a step each
        elif key == "feed":
            assert pytest.approx(value / 25.4, rel=0, abs=0.0101) == other, place
        elif key != "units":
            assert value == other, place
    assert {"diameter", "feed"} <= seen


@pytest.mark.parametrize("part", ALONG_X)
def test_the_origin_is_on_the_axis_and_travel_is_5_mm_clear_of_the_bar(part: str) -> None:
    toolpath = read(part)
    origin = [0, 0, 0]
    assert origin == toolpath["centre"]
    assert toolpath["stock"]["from"] < toolpath["stock"]["to"] == 0
    # Wrapped heights are measured from the surface of the roller, the others from the axis.
    surface = 0 if part == "coast_roller" else toolpath["stock"]["diameter"] / 2
    clear = script(part).CLEAR
    assert surface + 5 <= clear


# Distributor


def indexed_motion(part: str) -> list[tuple[str, MoveColumns]]:
    return [
        (operation.name, item)
        for operation in load_toolpath(file_of(part)).operations
        for item in operation.stream()
        if isinstance(item, MoveColumns)
    ]


def test_rapids_across_the_distributor_are_clear_of_the_swept_radius() -> None:
    count = 0
    for name, run in indexed_motion("distributor"):
        for before, after, kind in zip(run.end[:-1], run.end[1:], run.kind[1:], strict=True):
            if kind == RAPID and not np.array_equal(before[:2], after[:2]):
                count += 1
                assert min(before[2], after[2]) >= 28 + 5, name
    assert count >= 5


def test_rapids_down_to_the_distributor_end_in_air() -> None:
    radius = {tool["number"]: tool["diameter"] / 2 for tool in read("distributor")["tools"]}
    count = 0
    for op in read("distributor")["operations"]:
        top = 28.0 if op["rotary"]["intent"] == "still" or "five flats" in op["name"] else 22.0
        ends = [move["rapid"] for move in op["moves"] if "rapid" in move]
        for x, y, z in ends:
            if z < 34:
                count += 1
                beside = abs(y) > math.sqrt(28**2 - z**2) + radius[op["tool"]] if z < 28 else False
                assert z > top or x > radius[op["tool"]] or (beside and "locating flat" == op["name"]), op["name"]
    assert count > 10


def test_five_flats_come_72_degrees_apart_and_22_from_the_axis() -> None:
    op = operation("distributor", "five flats, finish")
    expected = [0, 72, 144, 216, 288]
    assert expected == op["rotary"]["angles"]
    milled = np.array([move["cut"] for move in op["moves"] if "cut" in move])
    pentagon = Point(0, 0).buffer(32)
    for angle in op["rotary"]["angles"]:
        # angle alpha: the tool stands at R(alpha) (0, 0, 1), so the machined face lies there on the part
        face = Rotation.from_euler("x", angle, degrees=True).apply(milled)
        outward = Rotation.from_euler("x", angle, degrees=True).apply([0, 0, 1])
        np.testing.assert_allclose(face @ outward, 22.0, atol=1e-9)
        half_space = box(-50, -50, 50, 22.0)  # y, z under the face
        turn = np.radians(angle)
        corners = [(y * np.cos(turn) - z * np.sin(turn), y * np.sin(turn) + z * np.cos(turn)) for y, z in half_space.exterior.coords]
        pentagon = pentagon.intersection(Polygon(corners))
    assert pytest.approx(5 * 22**2 * math.tan(math.radians(36)), rel=1e-9) == pentagon.area  # n r^2 tan(180 / n)
    assert max(math.hypot(*corner) for corner in pentagon.exterior.coords) < 28


def test_the_flats_are_covered_by_the_passes() -> None:
    op = operation("distributor", "five flats, finish")
    moves = op["moves"]
    swept = Polygon()
    here = None
    for move in moves:
        if "cut" in move:
            swept = swept.union(LineString([here, move["cut"][:2]]).buffer(5.0))
        here = (move.get("cut") or move["rapid"])[:2]
    half = 22 * math.tan(math.radians(36))
    assert box(-50 + 5 - 4.9, -half, 0, half).difference(swept).area < 0.5  # the tool's round leaves nothing but slivers


def test_the_pocket_is_20_by_12_with_corners_of_4() -> None:
    op = operation("distributor", "pockets on three flats")
    last_ring = [move for move in op["moves"] if (move.get("cut") or move.get("arc") or [0, 0, 0])[2] == 18]
    swept = LineString(along_arcs([{"cut": [-23, 0, 18]}, *last_ring])).buffer(3.0, quad_segs=64)
    pocket = box(-31, -2, -19, 2).buffer(4.0, quad_segs=64)
    assert swept.difference(pocket).area < 0.02
    assert pocket.difference(swept).area < 0.02


def test_the_curved_slot_is_7_wide_on_an_arc_of_18() -> None:
    op = operation("distributor", "curved slots on the others")
    swept = LineString(along_arcs(op["moves"])).buffer(3.0, quad_segs=64)
    angles = np.radians(np.linspace(-40, 40, 400))
    middle = LineString(np.column_stack([-25 + 18 * np.sin(angles), -14 + 18 * np.cos(angles)]))
    slot = middle.buffer(3.5, quad_segs=64)
    assert swept.symmetric_difference(slot).area < 0.05


def test_holes_of_neighbouring_flats_leave_a_wall() -> None:
    op = operation("distributor", "holes for M4")
    (drill,) = [tool for tool in read("distributor")["tools"] if tool["number"] == op["tool"]]
    lines = []
    for angle in op["rotary"]["angles"]:
        for move in op["moves"]:
            if "hole" in move and move["hole"][0] == -6:
                ends = [[-6, move["hole"][1], z] for z in (22.0, move["bottom"])]
                lines.append(LineString(Rotation.from_euler("x", angle, degrees=True).apply(ends)[:, 1:]))
    assert len(lines) == 10
    nearest = min(a.distance(b) for n, a in enumerate(lines) for b in lines[:n])
    assert nearest - drill["diameter"] > 1.0


def test_tap_feed_is_lead_times_speed() -> None:
    """Common practice, as NISTIR 6556 has it for a lead of 0.5 at 300 per minute."""
    op = operation("distributor", "M4 threads")
    (feed,) = {move["feed"] for move in op["moves"] if "hole" in move}
    assert 0.7 * op["spindle"]["rpm"] == feed


# Coast roller


def test_mercator_agrees_with_the_published_example() -> None:
    """Snyder, USGS PP 1395, numerical example for the sphere (from memory): R 1, 35 N, 75 W from 180 W: 1.8325957, 0.6528366."""
    roller = script("coast_roller")
    x, y = roller.on_cylinder(np.array([-75.0 + 180.0]), np.array([35.0]))
    assert pytest.approx(1.8325957, abs=1e-7) == -y[0] / 30
    assert pytest.approx(0.6528366, abs=1e-7) == (x[0] + 83) / 30


def engraved() -> Floats:
    table = rows(operation("coast_roller", "coastlines"))
    cuts = np.flatnonzero(table["motion"] == 1)
    return np.column_stack([table["x"], table["y"]])[cuts]


def test_every_engraved_vertex_is_a_place_on_the_coast() -> None:
    data = json.loads((DEMO / "coast_roller" / "coastline.json").read_text(encoding="utf-8"))
    coast = np.concatenate([np.array(line) for line in data["polylines"]])
    x, y = engraved().T
    # Inverse of Mercator's projection (Snyder 1987, equations 7-4 and 7-5), latitude = 90 - 2 atan(exp(-north / R)).
    longitude, latitude = -np.degrees(y / 30), 90 - 2 * np.degrees(np.arctan(np.exp(-(x + 83) / 30)))
    inside = (x > -120 + 1e-6) & (x < -20 - 1e-6)
    assert inside.sum() > 3000

    def on_ball(lon: Floats, lat: Floats) -> Floats:
        turns = Rotation.from_euler("ZY", np.column_stack([lon, -lat]), degrees=True)
        unit: Floats = turns.apply([1.0, 0.0, 0.0])
        return unit

    distance, _ = cKDTree(on_ball(*coast.T)).query(on_ball(longitude[inside], latitude[inside]))
    assert np.degrees(distance.max()) < 0.002


def test_the_map_reads_the_right_way_round_from_outside() -> None:
    """On a globe seen from outside, east x north points outward; north is +X here. The sign is that of the design."""
    roller = script("coast_roller")

    def place(lon: float, lat: float) -> Floats:
        x, y = (float(values[0]) for values in roller.on_cylinder(np.array([lon]), np.array([lat])))
        alpha_deg = 0.0 - math.degrees(y / 30)
        point: Floats = Rotation.from_euler("x", alpha_deg, degrees=True).apply([x, 0.0, 30.0])
        return point

    for lon, lat in [(0, 0), (18.4, -33.9), (-75, 40), (151, -34), (179, 66)]:
        here = place(lon, lat)
        east, north = place(lon + 0.01, lat) - here, place(lon, lat + 0.01) - here
        assert north[0] > 0
        assert np.cross(east, north) @ (here * [0, 1, 1]) > 0
        # longitude L is engraved where the tool stands at angle L
        assert pytest.approx(lon, abs=1e-9) == math.degrees(math.atan2(-here[1], here[2]))


@pytest.mark.parametrize(
    ("longitude", "latitude"),
    [(18.4, -33.9), (-17.5, 14.7), (-5.3, 36.1), (78.1, 8.1), (-67.3, -55.0), (145.1, -37.9)],
)
def test_known_capes_and_harbours_are_engraved_where_they_are(longitude: float, latitude: float) -> None:
    """Places on a coast, from memory, to the nearest 2 degrees at this scale."""
    away = engraved() - [-83 + 30 * math.asinh(math.tan(math.radians(latitude))), -math.radians(longitude) * 30]
    assert np.hypot(*away.T).min() < 2 * math.radians(1) * 30


def test_rapids_that_turn_the_roller_are_clear_of_it() -> None:
    count = 0
    for name, run in indexed_motion("coast_roller"):
        for before, after, kind in zip(run.end[:-1], run.end[1:], run.kind[1:], strict=True):
            if kind == RAPID and not np.array_equal(before[:2], after[:2]):
                count += 1
                assert min(before[2], after[2]) >= 5, name
    assert count > 100


def test_rapids_down_to_the_roller_end_over_it_or_beyond_its_end() -> None:
    for name, run in indexed_motion("coast_roller"):
        low = (run.kind == RAPID) & (run.end[:, 2] < 0.5)
        assert (run.end[low, 0] > 3).all(), name


def test_the_grip_has_12_turns_each_way() -> None:
    moves = operation("coast_roller", "diamond grip")["moves"]
    turns = sorted({round(move["cut"][1] / (math.pi * 60), 4) for move in moves if "cut" in move})
    expected = [-12, 0, 12]
    assert expected == turns


def test_the_lead_angle_of_the_grip_agrees_with_the_handbook_formula() -> None:
    """Lead L = pi D / tan(psi), psi from the axis (the handbooks' formula for helical milling); 36 mm in 12 turns: 3 mm."""
    first, second = [move["cut"] for move in operation("coast_roller", "diamond grip")["moves"] if "cut" in move][:2]
    psi = math.atan2(abs(second[1] - first[1]), abs(second[0] - first[0]))
    assert pytest.approx(3.0, abs=1e-4) == math.pi * 60 / math.tan(psi)


def test_the_ring_has_36_holes_10_degrees_apart() -> None:
    (ring,) = [op for op in load_toolpath(file_of("coast_roller")).operations if op.name == "ring of holes"]
    ys = [hole.y for item in ring.stream() if isinstance(item, Holes) for hole in item]
    assert len(ys) == 36
    np.testing.assert_allclose(np.degrees(np.diff(ys) / 30), 10.0, atol=1e-3)


def test_slots_are_arcs_in_the_developed_plane() -> None:
    op = operation("coast_roller", "wave slots")
    runs = [run for name, run in indexed_motion("coast_roller") if name == "wave slots"]
    arcs = sum(int(np.isin(run.kind, (ARC_CLOCKWISE, ARC_COUNTERCLOCKWISE)).sum()) for run in runs)
    slots, passes = 8, 4
    assert slots * passes * 2 == arcs
    sweeps = np.concatenate([run.arcs.sweep_rad for run in runs if run.arcs is not None])
    np.testing.assert_allclose(np.abs(sweeps[~np.isnan(sweeps)]), math.pi, atol=1e-4)
    first = along_arcs(op["moves"][:5])  # in, and once along the S
    assert pytest.approx(3.5, abs=1e-3) == first[:, 1].max()
    assert pytest.approx(-3.5, abs=1e-3) == first[:, 1].min()
    back = along_arcs([{"cut": op["moves"][4]["arc"]}, *op["moves"][5:7]])  # the way back lies on the way there
    assert LineString(first).hausdorff_distance(LineString(back)) < 0.02


def shapefile(rings: list[list[tuple[float, float]]]) -> bytes:
    """One polygon record a ring, after ESRI's Shapefile Technical Description, 1998."""
    records = b""
    for number, ring in enumerate(rings, 1):
        content = struct.pack("<i4dii", 5, 0, 0, 0, 0, 1, len(ring)) + struct.pack("<i", 0)
        content += b"".join(struct.pack("<2d", *vertex) for vertex in ring)
        records += struct.pack(">ii", number, len(content) // 2) + content
    return bytes(100) + records


def test_borders_between_countries_are_no_coast() -> None:
    extract = module_at(DEMO / "coast_roller" / "extract_coastline.py")
    west = [(0.0, 0.0), (0.0, 1.0), (1.0, 1.0), (1.0, 0.0), (0.0, 0.0)]
    east = [(1.0, 0.0), (1.0, 1.0), (2.0, 1.0), (2.0, 0.0), (1.0, 0.0)]
    (line,) = extract.closed_lines(extract.coast_edges(extract.polygon_rings(shapefile([west, east]))))
    assert box(0, 0, 2, 1).exterior.equals(LineString(line))


def test_a_coast_runs_on_past_the_edge_of_the_map() -> None:
    extract = module_at(DEMO / "coast_roller" / "extract_coastline.py")
    west_side = [(179.0, 0.0), (179.0, 1.0), (180.0, 1.0), (180.0, 0.0), (179.0, 0.0)]
    east_side = [(-180.0, 0.0), (-180.0, 1.0), (-179.0, 1.0), (-179.0, 0.0), (-180.0, 0.0)]
    (line,) = extract.closed_lines(extract.coast_edges(extract.polygon_rings(shapefile([west_side, east_side]))))
    assert box(179, 0, 181, 1).exterior.equals(LineString(extract.continuous(line)))


# Twisted vane


def vane(name: str) -> tuple[dict[str, Floats], Floats, Floats]:
    table = rows(operation("twisted_vane", name))
    tip = np.column_stack([table[c] for c in "xyz"])
    axis = np.column_stack([table[c] for c in "ijk"])
    return table, tip, axis


def vane_point(x: Floats | float, v: Floats | float) -> Floats:
    """The vane's surface by scipy's rotations: an ellipse of half axes 15 and 7 at X 0, 18 and 9 at X -80, turned 75 degrees in 80."""
    x, v = np.atleast_1d(x), np.atleast_1d(v)
    flat = np.column_stack([x, (15 - 3 * x / 80) * np.cos(v), (7 - 2 * x / 80) * np.sin(v)])
    turned: Floats = Rotation.from_euler("x", (75 / 80 * x)[:, None], degrees=True).apply(flat)
    return turned


def distance_to_vane(point: Floats, grid: tuple[Floats, Floats, cKDTree]) -> float:
    x, v, tree = grid
    _, nearest = tree.query(point)

    def away(at: Floats) -> float:
        return float(np.sum((vane_point(at[0], at[1])[0] - point) ** 2))

    best = minimize(away, [x[nearest], v[nearest]], method="Nelder-Mead", options={"xatol": 1e-7, "fatol": 1e-12})
    return math.sqrt(best.fun)


@pytest.fixture(scope="module")
def vane_grid() -> tuple[Floats, Floats, cKDTree]:
    x, v = (c.ravel() for c in np.meshgrid(np.linspace(-90, 12, 409), np.linspace(0, 2 * np.pi, 721), indexing="ij"))
    return x, v, cKDTree(vane_point(x, v))


def test_the_finishing_ball_touches_the_vane_and_never_cuts_into_it(vane_grid: tuple[Floats, Floats, cKDTree]) -> None:
    table, tip, axis = vane("vane, finish")
    cuts = np.flatnonzero(table["motion"] == 1)
    for row in cuts[::151]:
        assert pytest.approx(3.0, abs=3e-4) == distance_to_vane(tip[row] + 3.0 * axis[row], vane_grid)


def test_roughing_leaves_at_least_its_allowance(vane_grid: tuple[Floats, Floats, cKDTree]) -> None:
    table, tip, axis = vane("vane, rough")
    cuts = np.flatnonzero(table["motion"] == 1)
    away, _ = vane_grid[2].query(tip[cuts] + 5.0 * axis[cuts])
    assert pytest.approx(5.4, abs=0.01) == away.min()  # the grid is fine to 0.25 mm, which adds at most 0.005 here
    layers = 5.4 + 2.4 * np.arange(6)
    assert np.abs(away[:, None] - layers).min(axis=1).max() < 0.01


def test_no_layer_of_roughing_is_deeper_than_it_says(vane_grid: tuple[Floats, Floats, cKDTree]) -> None:
    x, v, _ = vane_grid
    here = vane_point(x, v)[(x >= -80) & (x <= 0)]
    deepest = 21 - np.hypot(here[:, 1], here[:, 2]).min()
    highest_layer = 0.4 + 2.4 * 5
    assert 0 < deepest - highest_layer <= 2.4


def test_chords_between_finishing_points_stay_within_0_015_mm(vane_grid: tuple[Floats, Floats, cKDTree]) -> None:
    table, tip, axis = vane("vane, finish")
    centres = (tip + 3.0 * axis)[table["motion"] == 1]
    middles = (centres[2:-1] + centres[3:])[::501] / 2
    shortest = min(distance_to_vane(middle, vane_grid) for middle in middles)
    assert 3.0 - 0.015 < shortest <= 3.0


def test_tool_axes_are_unit_and_at_a_right_angle_to_x() -> None:
    for name in ("vane, rough", "vane, finish"):
        table, _, axis = vane(name)
        np.testing.assert_array_equal(table["i"], 0)
        np.testing.assert_allclose(np.hypot(axis[:, 1], axis[:, 2]), 1.0, atol=2e-5)


def test_the_rotary_never_turns_far_between_two_points() -> None:
    for name in ("vane, rough", "vane, finish"):
        _, _, axis = vane(name)
        angle = np.arctan2(axis[:, 1], axis[:, 2])
        step_deg = np.degrees((np.diff(angle) + np.pi) % (2 * np.pi) - np.pi)
        assert np.abs(step_deg).max() < 30, name


def test_rapids_round_the_vane_are_clear_of_the_bar() -> None:
    for name in ("vane, rough", "vane, finish"):
        table, tip, axis = vane(name)
        count = 0
        for row in np.flatnonzero(table["motion"] == 0):
            if row == 0:
                continue
            step = tip[row] - tip[row - 1]
            if np.linalg.norm(np.cross(step, axis[row])) < 1e-3:
                continue  # straight along the spindle
            count += 1
            between = tip[row - 1] + np.linspace(0, 1, 21)[:, None] * step
            assert np.hypot(between[:, 1], between[:, 2]).min() >= 21 + 5
        assert count >= (1 if name == "vane, rough" else 0)


def test_rapids_down_to_the_vane_end_beyond_its_free_end() -> None:
    for name, radius in (("vane, rough", 5), ("vane, finish", 3)):
        table, tip, _ = vane(name)
        low = (table["motion"] == 0) & (np.hypot(tip[:, 1], tip[:, 2]) < 26)
        assert low.any()
        assert (tip[low, 0] >= radius + 2).all()


def test_the_vane_has_tens_of_thousands_of_points_in_blocks() -> None:
    sizes = [len(block["x"]) for op in read("twisted_vane")["operations"] for block in op["table"]]
    assert len(sizes) > 2
    assert 20_000 <= sum(sizes) <= 40_000


def test_the_latch_pin_has_no_symmetry() -> None:
    """Its features by angle and place along X: no turn about X, taken the other way round or from the other end, gives the same part."""
    deepest: dict[float, tuple[float, float]] = {}
    for line in (DEMO / "latch_pin" / "latch_pin.cl").read_text(encoding="utf-8").splitlines():
        if line.startswith("GOTO/"):
            x, y, z, _, j, k = map(float, line.removeprefix("GOTO/").split(","))
            angle = round(math.degrees(math.atan2(-j, k))) % 360
            deepest[angle] = min(deepest.get(angle, (math.inf, 0.0)), (round(math.hypot(y, z), 3), x))
    assert {0, 90, 240} == set(deepest)
    features = [(angle, x) for angle, (_, x) in deepest.items()]
    for turn in range(0, 360, 10):
        assert sorted(features) != sorted(((turn - angle) % 360, x) for angle, x in features)
        assert sorted(features) != sorted(((turn + angle) % 360, -80 - x) for angle, x in features)


# Helm boss


FACES = {25: 34, 152: 57, 262: 90}
"""Tilt of each face by its azimuth, degrees."""


def boss_planes() -> list[Floats]:
    """Origin and axes (4, 3) of every plane of every indexed operation, y worked out."""
    planes = [plane for op in read("helm_boss")["operations"] for plane in op["rotary"].get("planes", [])]
    return [np.array([each["origin"], each["x"], np.cross(each["z"], each["x"]), each["z"]]) for each in planes]


def test_the_faces_of_the_boss_lean_unequally_and_no_turn_or_mirror_image_brings_it_onto_itself() -> None:
    found = {}
    for _, x, y, z in boss_planes():
        np.testing.assert_allclose([x @ z, x[2], np.linalg.norm(x), np.linalg.norm(z)], [0, 0, 1, 1], atol=2e-5)
        azimuth, tilt = math.degrees(math.atan2(z[1], z[0])) % 360, math.degrees(math.atan2(math.hypot(z[0], z[1]), z[2]))
        np.testing.assert_allclose(x[:2], [-math.sin(math.radians(azimuth)), math.cos(math.radians(azimuth))], atol=2e-5)
        assert y[2] > -1e-9  # up the slope
        found[round(azimuth)] = round(tilt)
    assert found == FACES
    for turn in range(360):
        for sense in (1, -1):
            if (turn, sense) != (0, 1):
                assert {(turn + sense * azimuth) % 360: tilt for azimuth, tilt in FACES.items()} != FACES
    # the letter reads the right way round from outside: its stem is left of its bars, its long bar on top
    stem, long_bar, short_bar = ([-4, 1], [-4, 11]), ([-4, 11], [3, 11]), ([-4, 6.5], [1, 6.5])
    moves = operation("helm_boss", "letter")["moves"]
    strokes = [(a["cut"][:2], b["cut"][:2]) for a, b in itertools.pairwise(moves) if "cut" in a and "cut" in b]
    assert [stem, long_bar, short_bar] == strokes


def test_the_finishing_ball_stands_on_the_dome_and_leans_by_5_degrees() -> None:
    table = rows(operation("helm_boss", "dome, finish"))
    tip, axis = (np.column_stack([table[name] for name in names]) for names in ("xyz", "ijk"))
    cuts = table["motion"] == 1
    normal = (tip + 5 * axis - [0, 0, 38 - 80])[cuts]
    np.testing.assert_allclose(np.linalg.norm(normal, axis=1), 85, atol=3e-4)
    leans = Rotation.from_euler("x", 5, degrees=True).apply(normal / 85)
    np.testing.assert_allclose(leans, axis[cuts], atol=2e-5)
    chords = np.linalg.norm((normal[1:] + normal[:-1]) / 2, axis=1)
    within_a_pass = np.abs(np.diff(normal[:, 1])) < 0.1
    assert 85 - chords[within_a_pass].min() < 0.01
    assert np.hypot(*(normal[:, :2] * 80 / 85).T).max() < 32.5  # the ball is on the dome's sphere to its edge at 30, and little past it


def test_one_pass_of_the_dome_goes_through_the_pole_and_the_axes_stay_in_the_reach_of_a_table() -> None:
    table = rows(operation("helm_boss", "dome, finish"))
    axis = np.column_stack([table[name] for name in "ijk"])[table["motion"] == 1]
    tilt = np.degrees(np.arctan2(np.hypot(axis[:, 0], axis[:, 1]), axis[:, 2]))
    (at,) = np.flatnonzero(tilt == 0)
    assert np.all(tilt[[at - 1, at + 1]] > 1)
    assert axis[at - 1, 0] * axis[at + 1, 0] < 0  # from one side to the other
    assert tilt.max() < 29
    steps = np.degrees(np.arccos(np.clip((axis[1:] * axis[:-1]).sum(axis=1), -1, 1)))
    assert steps.max() < 3


def test_the_faces_of_the_boss_are_covered_by_their_passes() -> None:
    """Every place of a face that is stock and not above the dome lies under the 10 mm mill."""
    for name, azimuth in (("roof faces", 25), ("roof faces", 152), ("flat at the side", 262)):
        op = operation("helm_boss", name)
        plane = next(p for p in boss_planes() if round(math.degrees(math.atan2(p[3][1], p[3][0])) % 360) == azimuth)
        here, swept = [0.0, 0.0], Polygon()
        for move in op["moves"]:
            if "cut" in move and move["cut"][2] == 0:
                swept = swept.union(LineString([here, move["cut"][:2]]).buffer(5.0))
            here = (move.get("cut") or move["rapid"])[:2]
        x, y = (each.ravel() for each in np.meshgrid(np.arange(-30, 30, 0.5), np.arange(-40, 40, 0.5)))
        part = plane[0] + np.column_stack([x, y]) @ plane[1:3]
        r = np.hypot(part[:, 0], part[:, 1])
        on = (r < 30) & (part[:, 2] < 38 - 80 + np.sqrt(80**2 - np.minimum(r, 30) ** 2)) & (part[:, 2] > (9 if azimuth == 262 else 0))
        assert on.any()
        assert all(swept.covers(Point(*each)) for each in zip(x[on], y[on], strict=True)), name


def test_rapids_down_beside_the_boss_end_in_air_and_its_jaws_are_left_alone() -> None:
    radius = {tool["number"]: tool["diameter"] / 2 for tool in read("helm_boss")["tools"]}
    for op in read("helm_boss")["operations"]:
        planes = op["rotary"].get("planes", [None])
        for move in op.get("moves", []):
            for plane in planes:
                to = np.array(move.get("rapid") or move.get("cut") or move.get("arc") or [*move["hole"], move["bottom"]], dtype=float)
                if plane is not None:
                    x, z = np.array(plane["x"]), np.array(plane["z"])
                    to = np.array(plane["origin"]) + to[0] * x + to[1] * np.cross(z, x) + to[2] * z
                if "rapid" in move and move["rapid"][2] < 20 and op["tool"] == 1:
                    assert math.hypot(to[0], to[1]) - radius[1] > 30, (op["name"], move)
                down = radius[op["tool"]] if plane is not None else 0.0
                assert to[2] - down > 6, (op["name"], move)
