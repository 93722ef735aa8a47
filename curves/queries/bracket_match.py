"""Which frame of a roll's bracket has the reference's shadow density, and the index between frames."""

from dataclasses import dataclass

from curves.models import FilmStock, HouseReference, Patch, Roll
from curves.queries.patches import SETTING_LOG_SD, ReadFrame, RollPatches, patches_of_rolls
from curves.queries.standing import lab_spread_under, standing_rolls
from curves.sensitometry.exposing.bracket import Bracket, match_bracket
from curves.sensitometry.measures import Measure
from curves.sensitometry.printing.print_exposure import print_time_for_base
from curves.sensitometry.speed_scale import STOP


@dataclass(frozen=True)
class BracketFrame:
    """One frame of the bracket with the net density of its shadow patch."""

    read: ReadFrame
    net_density: float
    is_nearest: bool


@dataclass(frozen=True)
class BracketMatch:
    """The bracket against the reference's frame; ``missing`` says what is not there yet."""

    patch: Patch | None
    frames: tuple[BracketFrame, ...]
    measures: dict[str, Measure]
    print_factor: Measure | None
    reference: FilmStock | None = None
    reference_roll: Roll | None = None
    reference_frame: ReadFrame | None = None
    reference_density: float | None = None
    missing: str = ""


def bracket_match(read: RollPatches) -> BracketMatch:
    """Return which frame of a roll matches its house reference, both by net densities of one grey patch."""
    patch = read.darkest_grey
    own_base = _base(read.roll)
    if patch is None or own_base is None or own_base.value is None:
        missing = "no patches are entered" if patch is None else "the roll has no base plus fog yet"
        return BracketMatch(patch, (), {}, None, missing=missing)
    frames = [f for f in read.frames if not f.frame.filter_name and patch.number in f.densities]
    found = _reference_frame(read.roll, patch)
    if len(frames) < 2 or isinstance(found, str):
        missing = "fewer than two frames have the patch read" if len(frames) < 2 else found
        return BracketMatch(patch, _lines(frames, patch, own_base.value, None), {}, None, missing=missing)
    stock, roll, frame = found
    base = _base(roll)
    wanted = frame.densities[patch.number] - base.value
    measures = match_bracket(
        _bracket(read.roll, frames, patch, own_base),
        wanted,
        frame.frame.exposure_index,
        reference_density_sd=_net_sd(frame.density_sd, base),
        reference_setting_sd=SETTING_LOG_SD,
    )
    return BracketMatch(
        patch=patch,
        frames=_lines(frames, patch, own_base.value, wanted),
        measures=measures,
        print_factor=print_time_for_base(1.0, own_base, base),
        reference=stock,
        reference_roll=roll,
        reference_frame=frame,
        reference_density=wanted,
    )


def _base(roll: Roll) -> Measure | None:
    if roll.current_analysis is None:
        return None
    return Measure.from_dict("base_plus_fog", roll.current_analysis.measures["base_plus_fog"])


def _net_sd(density_sd: float, base: Measure) -> float:
    return (density_sd**2 + (base.standard_error or 0.0) ** 2) ** 0.5


def _bracket(roll: Roll, frames: list[ReadFrame], patch: Patch, base: Measure) -> Bracket:
    pair = {
        "process_revision_id": roll.process_revision_id,
        "exposure_revision_id": roll.exposure_revision_id,
    }
    between_rolls = lab_spread_under(**pair)["standard_deviations"].get("speed_stops", 0.0)
    return Bracket.of(
        [frame.frame.exposure_index for frame in frames],
        [frame.densities[patch.number] - base.value for frame in frames],
        density_sd=_net_sd(max(frame.density_sd for frame in frames), base),
        setting_sd=SETTING_LOG_SD,
        # Two rolls are held against each other: the test and the reference.
        roll_sd=between_rolls * STOP * 2**0.5,
        is_nominal=False,
    )


def _lines(
    frames: list[ReadFrame], patch: Patch, base: float, wanted: float | None
) -> tuple[BracketFrame, ...]:
    nets = [frame.densities[patch.number] - base for frame in frames]
    nearest = min(nets, key=lambda net: abs(net - wanted)) if wanted is not None and nets else None
    return tuple(BracketFrame(frame, net, net == nearest) for frame, net in zip(frames, nets, strict=True))


def _reference_frame(roll: Roll, patch: Patch):
    """The reference's newest roll that counts and its frame nearest the metered one; or what lacks."""
    pair = {
        "process_revision_id": roll.process_revision_id,
        "exposure_revision_id": roll.exposure_revision_id,
    }
    reference = HouseReference.objects.filter(**pair, ended_at__isnull=True).select_related("stock").first()
    if reference is None:
        return "no house reference is appointed under these standards"
    rolls = standing_rolls().filter(**pair, batch__stock=reference.stock_id, patch_frames__isnull=False)
    rolls = rolls.exclude(pk=roll.pk).select_related("current_analysis").distinct().order_by("-accepted_at")
    for each in patches_of_rolls(list(rolls[:5])):
        frames = [f for f in each.frames if not f.frame.filter_name and patch.number in f.densities]
        base = _base(each.roll)
        if frames and base is not None and base.value is not None:
            nearest = min(frames, key=lambda frame: abs(frame.frame.offset_stops))
            return reference.stock, each.roll, nearest
    return f"no accepted roll of the reference {reference.stock} has this patch read"
