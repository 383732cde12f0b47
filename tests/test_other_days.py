"""Is a stored fit still true; which floor is this? On made pictures whose truth is known."""

from __future__ import annotations

import contextlib
import dataclasses
import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from click.testing import CliRunner, Result
from numpy.typing import NDArray

from regmap import floors, frames, synthetic
from regmap.cli import main
from regmap.errors import (
    DoubtfulFitError,
    DoubtfulFitWarning,
    NoFitError,
    RegmapError,
    StoredFileError,
)
from regmap.floors import fitting, identify, load_house, verify
from regmap.floors.fitting import Attempt
from regmap.register import register
from regmap.registration import Registration, RoomFit
from regmap.synthetic import partition, variants
from tests.fit_examples import make_fit

Image = NDArray[np.uint8]
Rings = dict[str, tuple[NDArray[np.float64], ...]]

SIZE = (480, 400)


def picture(floor: synthetic.Floor, **options: Any) -> synthetic.Picture:
    """A floor drawn by the same hand each time."""
    given: dict[str, Any] = {"look": "flat", "size": SIZE, "fill": 0.85} | options
    return synthetic.draw(floor, np.random.default_rng(1), **given)


@dataclasses.dataclass(frozen=True, eq=False)
class Home:
    floor: synthetic.Floor
    rings: Rings
    image: Image
    truth: NDArray[np.float64]
    fit: Registration


@pytest.fixture(scope="module")
def home() -> Home:
    rng = np.random.default_rng(0)
    floor = synthetic.make_floor(rng, rooms=7, style="plain")
    device = synthetic.robot_outlines(floor, rng, noise_mm=5.0)
    drawn = picture(floor)
    truth = frames.compose(device.floor_to_device, drawn.image_to_floor)
    fit = register(drawn.image, device.rings)
    assert not fit.doubtful
    return Home(floor, dict(device.rings), drawn.image, truth, fit)


# --- verify --------------------------------------------------------------------------------------


def test_the_same_picture_holds(home: Home) -> None:
    found = verify(home.fit, home.image)
    assert found.holds
    assert found.drift_px < 0.2
    assert found.changed_rooms == ()
    assert found.reasons == ()
    assert found.confidence >= 0.9
    found.refuse_drift()


def test_a_picture_that_was_drawn_in_other_colours_holds(home: Home) -> None:
    again = picture(home.floor, look="near")
    found = verify(home.fit, again.image)
    assert found.holds
    assert found.drift_px <= found.tolerance_px


@pytest.mark.parametrize("shift", [(4, 3), (40, -25)])
def test_a_map_that_moved_is_told_by_how_much(home: Home, shift: tuple[int, int]) -> None:
    """The small shift is found from the stored fit, the large one by the whole search."""
    moved = np.roll(home.image, shift, axis=(1, 0))
    found = verify(home.fit, moved)
    assert not found.holds
    assert found.drift_px == pytest.approx(math.hypot(*shift), abs=0.5)
    assert found.median_drift_px == pytest.approx(math.hypot(*shift), abs=0.5)
    assert found.drift == pytest.approx(found.drift_px * home.fit.unit_per_px, rel=0.02)
    assert found.confidence >= 0.9
    assert "moved in the picture" in found.reasons[0]
    # Today's fit is right.
    assert found.registration is not None
    px = np.array([[100.0, 100.0], [380.0, 300.0]])
    away = found.registration.to_device(px + shift) - frames.apply(home.truth, px)
    assert np.hypot(*away.T).max() < 2 * home.fit.unit_per_px
    with pytest.raises(DoubtfulFitError):
        found.refuse_drift()


def test_a_map_that_was_zoomed_drifts_most_at_its_rim(home: Home) -> None:
    found = verify(home.fit, picture(home.floor, fill=0.8).image)
    assert not found.holds
    assert found.drift_px > 1.5 * found.median_drift_px > 2.0


def test_a_picture_of_another_size_is_told(home: Home) -> None:
    found = verify(home.fit, cv2.resize(home.image, (720, 600), interpolation=cv2.INTER_CUBIC))
    assert not found.holds
    assert "720 x 600 px, and was 480 x 400 px" in found.reasons[0]
    assert found.registration is not None
    assert found.registration.unit_per_px == pytest.approx(home.fit.unit_per_px / 1.5, rel=0.01)


def test_a_wall_that_went_is_named_and_the_fit_still_holds(home: Home) -> None:
    """Neighbours with the longest wall between them, which is taken out."""
    names = list(home.floor.cells)
    shared = {
        (a, b): home.floor.cells[a].boundary.intersection(home.floor.cells[b].boundary).length
        for i, a in enumerate(names)
        for b in names[i + 1 :]
    }
    first, second = max(shared, key=lambda pair: shared[pair])
    drawn = dict(home.floor.cells)
    drawn[first] = partition.join(drawn[first], drawn.pop(second)) or drawn[first]
    found = verify(home.fit, picture(home.floor, shapes=drawn).image)
    assert found.drift_px < 1.5
    assert found.holds
    assert set(found.changed_rooms) & {first, second}
    assert set(found.changed_rooms) <= {first, second}
    assert any("not show these rooms as before" in why for why in found.reasons)


def test_another_floor_does_not_hold(home: Home) -> None:
    rng = np.random.default_rng(77)
    other = synthetic.make_floor(rng, rooms=9, style="slanted")
    found = verify(home.fit, picture(other).image)
    assert not found.holds
    assert found.confidence < 0.9
    assert found.reasons


def test_of_twins_the_one_where_the_stored_fit_lay(monkeypatch: pytest.MonkeyPatch) -> None:
    """The whole search finds two positions; the stored fit tells which one is meant."""
    right = make_fit(confidence=0.5)
    turned = frames.compose(right.transform, [[-1.0, 0.0, 640.0], [0.0, -1.0, 480.0]])
    wrong = make_fit(confidence=0.5, transform=frames.matrix_to_affine(turned))
    answers = [
        Attempt(None, True, ("too weak",)),  # from the stored fit alone
        Attempt(dataclasses.replace(wrong, alternatives=(right,), reasons=("t",)), False, ("t",)),
    ]
    monkeypatch.setattr("regmap.floors.verification.attempt", lambda *_, **__: answers.pop(0))
    found = verify(make_fit(), np.full((480, 640), 255, np.uint8))
    assert found.drift_px == pytest.approx(0.0, abs=1e-6)
    assert found.registration is not None
    assert found.registration.alternatives[0].transform == wrong.transform
    assert not found.holds


def test_rooms_that_are_hidden_today_did_not_change(monkeypatch: pytest.MonkeyPatch) -> None:
    def with_room(state: str, support: float) -> Registration:
        return make_fit(rooms=(RoomFit("study", state, 0.9, 0.2, support, 1.0, (90.0, 240.0)),))

    for state, support, changed in (
        ("not shown", 0.0, ()),
        ("agrees", 0.85, ()),
        ("agrees", 0.5, ("study",)),
        ("disagrees", 0.1, ("study",)),
    ):
        today = Attempt(with_room(state, support), False, ())
        monkeypatch.setattr("regmap.floors.verification.attempt", lambda *_, t=today, **__: t)
        found = verify(with_room("agrees", 0.9), np.full((480, 640), 255, np.uint8))
        assert found.changed_rooms == changed, state


# --- identify ------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def house(home: Home) -> dict[str, Rings]:
    rng = np.random.default_rng(5)
    upper = variants.next_storey(home.floor, rng)
    other = synthetic.make_floor(rng, rooms=5, style="slanted")
    return {
        "ground": home.rings,
        "upper": dict(synthetic.robot_outlines(upper, rng, noise_mm=5.0).rings),
        "annex": dict(synthetic.robot_outlines(other, rng, noise_mm=5.0).rings),
    }


def test_the_right_floor_is_picked(home: Home, house: dict[str, Rings]) -> None:
    name, fit = identify(home.image, house)
    assert name == "ground"
    assert not fit.doubtful
    px = np.array([[100.0, 100.0], [380.0, 300.0]])
    away = fit.to_device(px) - frames.apply(home.truth, px)
    assert np.hypot(*away.T).max() < 2 * fit.unit_per_px


@pytest.mark.filterwarnings("ignore::regmap.errors.DoubtfulFitWarning")
def test_an_unknown_floor_is_never_picked_for_sure(house: dict[str, Rings]) -> None:
    unknown = synthetic.make_floor(np.random.default_rng(31), rooms=8)
    confidence = 0.0
    with contextlib.suppress(NoFitError):
        confidence = identify(picture(unknown).image, house).fit.confidence
    assert confidence < 0.9


def test_two_floors_alike_share_the_confidence(home: Home) -> None:
    with pytest.warns(DoubtfulFitWarning, match="doubtful floor"):
        _, fit = identify(home.image, {"first": home.rings, "second": dict(home.rings)})
    alone = home.fit.confidence
    # Odds c / (1 - c) for each, and 1 for neither.
    odds = alone / (1 - alone)
    assert fit.confidence == pytest.approx(odds / (1 + 2 * odds), abs=0.02)
    assert "fit this picture too" in fit.reasons[-1]


def test_how_confidence_is_shared(monkeypatch: pytest.MonkeyPatch) -> None:
    """By hand: 0.9 and 0.5 are odds of 9 and 1; with 1 for neither, 9 / 11 and 1 / 11."""
    said = {"a": 0.9, "b": 0.5, "c": 0.0}

    def stand_in(_image: object, outlines: str, **_: object) -> Attempt:
        if said[outlines] == 0.0:
            return Attempt(None, True, ("another floor",))
        return Attempt(make_fit(confidence=said[outlines]), False, ())

    monkeypatch.setattr("regmap.floors.identification.attempt", stand_in)
    blank = np.full((8, 8), 255, np.uint8)
    with pytest.warns(DoubtfulFitWarning):
        name, fit = identify(blank, {key: key for key in said})
    assert name == "a"
    assert fit.confidence == pytest.approx(9 / 11)
    with pytest.raises(NoFitError, match="'c': another floor"):
        identify(blank, {"c": "c"})
    name, fit = identify(blank, {"a": "a"})
    assert fit.confidence == pytest.approx(0.9)


def test_a_floor_with_a_twin_is_still_that_floor(monkeypatch: pytest.MonkeyPatch) -> None:
    twins = make_fit(confidence=0.48, alternatives=(make_fit(confidence=0.48),))
    answers = {"a": twins, "b": make_fit(confidence=0.3)}
    monkeypatch.setattr(
        "regmap.floors.identification.attempt",
        lambda _image, outlines, **_: Attempt(answers[outlines], False, ()),
    )
    with pytest.warns(DoubtfulFitWarning):
        name, fit = identify(np.full((8, 8), 255, np.uint8), {"a": "a", "b": "b"})
    assert name == "a"
    odds = 0.96 / 0.04
    whole = odds / (1 + odds + 0.3 / 0.7)
    assert fit.confidence + fit.alternatives[0].confidence == pytest.approx(whole)


def test_a_folder_of_stored_fits_serves_a_house(
    home: Home, house: dict[str, Rings], tmp_path: Path
) -> None:
    home.fit.save(tmp_path / "ground.json")
    (tmp_path / "annex").mkdir()
    dataclasses.replace(make_fit(), outlines=house["annex"], rooms=(), unit="inch").save(
        tmp_path / "annex" / "registration.json"
    )
    (tmp_path / "notes.txt").write_text("not a floor")
    stored = load_house(tmp_path)
    assert list(stored) == ["annex", "ground"]
    name, fit = identify(home.image, tmp_path)
    assert (name, fit.unit) == ("ground", "mm")
    assert fit.rooms
    (tmp_path / "annex.json").write_bytes((tmp_path / "ground.json").read_bytes())
    with pytest.raises(StoredFileError, match="two floors called 'annex'"):
        load_house(tmp_path)
    with pytest.raises(StoredFileError, match="no folder"):
        load_house(tmp_path / "attic")
    (tmp_path / "empty").mkdir()
    with pytest.raises(StoredFileError, match="no stored registration"):
        load_house(tmp_path / "empty")
    with pytest.raises(RegmapError, match="no floors"):
        identify(home.image, {})


def test_filters_of_warnings_are_left_alone_in_other_threads() -> None:
    """They belong to the whole process, and another thread may be using them."""
    import threading
    import warnings

    before = list(warnings.filters)
    seen: list[bool] = []
    image = np.full((40, 40), 255, np.uint8)

    def work() -> None:
        try:
            fitting.quietly(image, {"a": [[0, 0], [9, 0], [9, 9], [0, 9]]}, {"model": "none"})
        except RegmapError:
            seen.append(list(warnings.filters) == before)

    thread = threading.Thread(target=work)
    thread.start()
    thread.join()
    assert seen == [True]


# --- the commands --------------------------------------------------------------------------------


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(a) for a in arguments])


@pytest.fixture
def files(home: Home, tmp_path: Path) -> Callable[[str], Path]:
    cv2.imwrite(str(tmp_path / "today.png"), home.image[..., ::-1])
    cv2.imwrite(str(tmp_path / "moved.png"), np.roll(home.image, (4, 3), axis=(1, 0))[..., ::-1])
    cv2.imwrite(str(tmp_path / "white.png"), np.full((400, 480, 3), 255, np.uint8))
    home.fit.save(tmp_path / "ground.json")
    rings = {name: parts[0].round(2).tolist() for name, parts in home.rings.items()}
    (tmp_path / "ground.txt").write_text(json.dumps({"rooms": rings}))
    return lambda name: tmp_path / name


def test_verify_by_command_line(files: Callable[[str], Path]) -> None:
    ran = run("verify", files("ground.json"), files("today.png"))
    assert ran.exit_code == 0, ran.output
    assert "The stored fit holds" in ran.output
    assert "no safety barrier" in ran.output
    ran = run("verify", files("ground.json"), files("moved.png"), "--json", "-o", files("new"))
    assert ran.exit_code == 3, ran.output
    told = json.loads(ran.stdout)
    assert told["holds"] is False
    assert told["drift_px"]["worst"] == pytest.approx(5.0, abs=0.5)
    assert "no safety barrier" in told["caution"]
    new = Registration.load(files("new") / "registration.json")
    assert new.transform != Registration.load(files("ground.json")).transform
    again = run("verify", files("ground.json"), files("moved.png"), "-o", files("new"))
    assert again.exit_code == 1
    assert "would be overwritten" in again.output
    assert (files("new") / "proof.png").stat().st_size > 0
    assert run("verify", files("ground.json"), files("gone.png")).exit_code == 1


def test_verify_where_nothing_fits(
    files: Callable[[str], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    nan = math.nan
    nothing = floors.Verification(
        False, nan, nan, nan, nan, nan, 0.0, ("hall",), ("another floor",), None, "mm"
    )
    monkeypatch.setattr("regmap.floors.verify", lambda *_: nothing)
    ran = run("verify", files("ground.json"), files("white.png"), "-o", files("new"))
    assert ran.exit_code == 4
    assert "DOES NOT HOLD" in ran.output
    assert not files("new").exists()
    told = json.loads(run("verify", files("ground.json"), files("white.png"), "--json").stdout)
    assert told["drift_px"] == {"worst": None, "median": None}


def test_identify_by_command_line(files: Callable[[str], Path], tmp_path: Path) -> None:
    other = {"a": [[0, 0], [900, 0], [900, 700], [0, 700]], "b": [[950, 0], [1600, 0], [1600, 700]]}
    (tmp_path / "shed.txt").write_text(json.dumps({"rooms": other}))
    ran = run("identify", files("today.png"), files("ground.json"), files("shed.txt"), "--json")
    assert ran.exit_code == 0, ran.output
    assert json.loads(ran.stdout)["floor"] == "ground"
    out = tmp_path / "out"
    ran = run("identify", files("today.png"), files("ground.txt"), files("shed.txt"), "-o", out)
    assert ran.exit_code == 0, ran.output
    assert ran.output.splitlines()[0] == "ground"
    assert "no safety barrier" in ran.output
    assert sorted(path.name for path in out.iterdir()) == ["proof.png", "registration.json"]
    twice = run("identify", files("today.png"), files("ground.json"), files("ground.txt"))
    assert twice.exit_code == 2
    assert "two floors are called 'ground'" in twice.output


def test_identify_where_nothing_fits(
    files: Callable[[str], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise NoFitError(None, ("'ground': it fits nowhere",))

    monkeypatch.setattr("regmap.floors.identify", refuse)
    ran = run("identify", files("white.png"), files("ground.json"))
    assert ran.exit_code == 4
    assert "shows none of ground" in ran.output
    ran = run("identify", files("white.png"), files("ground.json"), "--json")
    assert json.loads(ran.stdout)["floor"] is None
