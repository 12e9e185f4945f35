"""`fanlight simulate`: an invented study whose truth is known."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from fanlight.cli.exit_code import ExitCode
from fanlight.cli.options import Quiet
from fanlight.cli.reading import read_house
from fanlight.cli.screen import OUT, Bar, fail
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.visit.hand_level import HandLevel
from fanlight.study import Species, Valve

# The sizes of the heart are published for animals within these weights; beyond them the model would guess.
_LIGHTEST_KG, _HEAVIEST_KG = 2.0, 80.0


class BeatKind(StrEnum):
    """How the animal's heart keeps time."""

    SINUS = "sinus"
    SINUS_ARRHYTHMIA = "sinus_arrhythmia"
    ECTOPIC = "ectopic"


def simulate(
    seed: Annotated[int, typer.Option("--seed", help="0 to 9999: ring A; 10000 to 19999: ring B.")],
    out: Annotated[
        Path | None, typer.Option("--out", help="New or empty folder for the study; by default simulated-SEED here.")
    ] = None,
    truth: Annotated[
        Path | None, typer.Option("--truth", help="Folder for the truth, outside the study; by default beside it.")
    ] = None,
    species: Annotated[Species, typer.Option("--species", help="Species of the animal.")] = Species.DOG,
    weight_kg: Annotated[
        float, typer.Option("--weight", min=_LIGHTEST_KG, max=_HEAVIEST_KG, help="Body weight in kg.")
    ] = 12.0,
    heart: Annotated[HeartClass, typer.Option("--heart", help="Shape of the heart.")] = HeartClass.NORMAL,
    chest: Annotated[Chest, typer.Option("--chest", help="Shape of the chest.")] = Chest.AVERAGE,
    rhythm: Annotated[
        BeatKind,
        typer.Option("--rhythm", help="Even beats, beats that follow the breath, or early beats among even ones."),
    ] = BeatKind.SINUS,
    hand: Annotated[HandLevel, typer.Option("--hand", help="Who scans.")] = HandLevel.IMPROVING,
    plan: Annotated[str, typer.Option("--plan", help="Key of the plan that is scanned.")] = "cardiology",
    labelled: Annotated[
        bool, typer.Option("--labelled", help="Write the name of the view into each file and onto its screen.")
    ] = False,
    label_strips: Annotated[
        bool,
        typer.Option(
            "--label-strips", help="The same, of M-modes and spectra alone, as people label them who store them."
        ),
    ] = False,
    doppler: Annotated[
        bool,
        typer.Option(
            "--doppler/--no-doppler", help="Store colour and spectra too where the plan asks for them, or not."
        ),
    ] = True,
    spectra: Annotated[
        list[Valve] | None,
        typer.Option(
            "--spectra",
            help="Valve of which pulsed and continuous wave are stored though the plan does not ask; may be repeated.",
        ),
    ] = None,
    ring: Annotated[
        Ring | None, typer.Option("--ring", help="C: shifted animals, machines and screens. A and B follow the seed.")
    ] = None,
    label_maps: Annotated[
        bool, typer.Option("--label-maps", help="Store with the truth which tissue each pixel shows.")
    ] = False,
    workers: Annotated[int, typer.Option("--workers", min=1, max=16, help="Clips made at once.")] = 2,
    quiet: Quiet = False,
) -> None:
    """Scan an invented animal with an invented hand: a study as a practice sends it, and apart from it the truth."""
    # Imported late: --help answers at once.
    from fanlight.reference.plans import UnknownPlanError, read_plans
    from fanlight.reference.views import read_views
    from fanlight.simulate.clip.ring import SeedError, ring_of
    from fanlight.simulate.visit.doppler_rungs import NoSpectraError, spectra_beside
    from fanlight.simulate.visit.examination import draw_examination
    from fanlight.simulate.visit.shoot import Wanted
    from fanlight.simulate.visit.truth import TruthPlaceError, settle_truth_folder
    from fanlight.simulate.visit.write_study import FolderInUseError, check_folders, make_folders, write_study

    house = read_house(None)
    plans = read_plans(house)
    out = out or Path.cwd() / f"simulated-{seed}"
    try:
        if plan not in plans:
            raise UnknownPlanError(plan, tuple(plans))
        wanted = Wanted(
            study=out,
            truth=settle_truth_folder(out, truth),
            labelled=labelled,
            labels_strips=label_strips,
            label_maps=label_maps,
        )
        ring_of(seed, ring)
        check_folders(wanted)
        examination = draw_examination(
            seed=seed,
            plan=plans[plan],
            species=species,
            weight_kg=weight_kg,
            heart=heart,
            chest=chest,
            hand=hand,
            ring=ring,
            arrhythmia=rhythm.value,
            doppler=doppler,
            beside=spectra_beside(plans[plan], read_views(house), spectra or ()) if doppler else (),
        )
        make_folders(wanted)
    except (SeedError, TruthPlaceError, FolderInUseError, UnknownPlanError, NoSpectraError) as error:
        raise fail(str(error), ExitCode.SETTINGS) from error
    except OSError as error:
        raise fail(
            f"{error.filename}: {error.strerror}. Name a folder that you may write to.", ExitCode.SETTINGS
        ) from error
    with Bar(quiet) as bar:
        bar.begin("Scanning", len(examination.shots))
        for written in write_study(examination, wanted, workers=workers):
            bar.step(now=written.file)
    OUT.print(str(wanted.study), markup=False)
    OUT.print(str(wanted.truth), markup=False)
