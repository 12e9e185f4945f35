"""What is derived holds nothing of its own: it may be old or gone, and says what it rests on."""

from pathlib import Path

from sqlalchemy import text

from fanlight.review.events import ReviewFinished, StudyAssembled
from fanlight.store import (
    DerivedKind,
    Store,
    add_entry,
    add_study,
    export_store,
    keep_derived,
    new_id,
    open_store,
    path_bases,
    read_derived,
    record_event,
    study_state,
)
from fanlight.store.actions import TakeClipOut
from measure._store_samples import HOUSE, sample_id, sample_review, sample_study
from tests.store.filled import fill


def _read(store: Store, study: str) -> None:
    whole = sample_study(2, study)
    record_event(store, study, StudyAssembled(study=whole), house=HOUSE)
    record_event(store, study, ReviewFinished(review=sample_review(whole)), house=HOUSE)


def _out(store: Store, study: str) -> None:
    add_entry(store, study, TakeClipOut(clip="c"), author="M", entry=new_id())


def test_a_path_rests_on_the_newest_draft_and_the_newest_act(store: Store) -> None:
    study = add_study(store, new_id(), title="t").id
    _out(store, study)
    assert path_bases(store, (study,), house=HOUSE) == {}  # no draft yet
    _read(store, study)
    first = str(path_bases(store, (study,), house=HOUSE)[study])
    _out(store, study)
    second = str(path_bases(store, (study,), house=HOUSE)[study])
    _read(store, study)

    assert len({first, second, str(path_bases(store, (study,), house=HOUSE)[study])}) == 3


def test_a_path_rests_on_the_house_and_on_the_program(store: Store) -> None:
    """A row that other tables or another version made is made anew."""
    study = add_study(store, new_id(), title="t").id
    _read(store, study)

    made = [("a", "1"), ("b", "1"), ("a", "2")]
    bases = [path_bases(store, (study,), house=house, engine_version=version)[study] for house, version in made]
    assert len({str(basis) for basis in bases}) == 3
    assert {basis.entry for basis in bases} == {0}  # nobody touched it


def test_the_newest_value_counts(store: Store) -> None:
    for basis, value in (("one", ("a",)), ("two", ("b",))):
        keep_derived(store, DerivedKind.PATH, "s", basis=basis, value=value)
    kept = read_derived(store, DerivedKind.PATH, ("s", "t"))

    assert {key: (item.basis, item.unpacked(tuple[str, ...])) for key, item in kept.items()} == {"s": ("two", ("b",))}
    assert read_derived(store, DerivedKind.LETTER, ("s",)) == {}
    assert kept["s"].unpacked(dict[str, int]) is None


def test_an_export_leaves_it_out(store: Store, tmp_path: Path) -> None:
    fill(store, add_study(store, sample_id("study"), title="t").id)
    export_store(store, tmp_path / "one.zip")
    keep_derived(store, DerivedKind.PATH, "s", basis="b", value=("a",))
    export_store(store, tmp_path / "two.zip")

    assert (tmp_path / "one.zip").read_bytes() == (tmp_path / "two.zip").read_bytes()


def test_a_store_of_the_first_tables_gets_the_new_one_and_keeps_what_it_has(tmp_path: Path) -> None:
    """As a store looks that an earlier Fanlight made: without the table, at the migration before."""
    with open_store(tmp_path) as store:
        study = add_study(store, new_id(), title="t").id
        _out(store, study)
        with store.database.write() as connection:
            connection.execute(text("DROP TABLE derived"))
            connection.execute(text("UPDATE alembic_version SET version_num = '0001'"))
    with open_store(tmp_path) as store:
        keep_derived(store, DerivedKind.PATH, study, basis="b", value=())

        assert list(study_state(store, study).placements) == ["c"]
        assert study in read_derived(store, DerivedKind.PATH, (study,))
