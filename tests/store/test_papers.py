"""What was signed is frozen; a later word is an addendum. Messages stay on their thread."""

import hashlib

import pytest

from fanlight.review.events import StudyAssembled
from fanlight.store import (
    DocumentKind,
    MessageKind,
    NewPart,
    RefusedActionError,
    Store,
    UnknownRowError,
    UsedIdError,
    add_message,
    add_study,
    documents_of,
    entries_of,
    last_letter,
    last_letters,
    letters_before,
    messages_of,
    new_id,
    part_bytes,
    read_document,
    record_event,
    sign_document,
    study_state,
    undo_entry,
    verify_store,
)
from measure._store_samples import HOUSE, sample_id, sample_study

LETTER = (
    NewPart(name="letter.html", media_type="text/html", data=b"<p>Well done.</p>"),
    NewPart(name="letter.pdf", media_type="application/pdf", data=b"%PDF"),
)


def _sign(store: Store, study: str, document: str, supersedes: str = "", kind: DocumentKind = DocumentKind.LETTER):
    return sign_document(store, study, kind, LETTER, author="M", document=sample_id(document), supersedes=supersedes)


def test_a_signed_paper_is_frozen_with_its_hash(store: Store, study: str) -> None:
    document = _sign(store, study, "d")
    lines = "".join(f"{hashlib.sha256(part.data).hexdigest()}  {part.name}\n" for part in LETTER)

    assert document.sha256 == hashlib.sha256(lines.encode()).hexdigest()
    assert [store.originals.read(part.sha256) for part in document.parts] == [part.data for part in LETTER]
    assert (document.version, document.supersedes, document.author) == (1, "", "M")
    assert documents_of(store, study) == (document,)
    assert read_document(store, document.id) == document


def test_signing_is_an_entry_of_the_log_that_cannot_be_undone(store: Store, study: str) -> None:
    document = _sign(store, study, "d")
    (entry,) = entries_of(store, study)

    assert study_state(store, study).signed[DocumentKind.LETTER].document_id == document.id
    with pytest.raises(RefusedActionError, match=r"what was signed cannot be undone.*Sign an addendum"):
        undo_entry(store, study, entry.id, author="M", entry=new_id())


def test_a_later_version_is_a_new_paper_beside_the_old(store: Store, study: str) -> None:
    first = _sign(store, study, "d")
    summary = _sign(store, study, "s", kind=DocumentKind.SUMMARY)
    second = _sign(store, study, "e", supersedes=first.id)

    assert (second.version, second.supersedes, summary.version) == (2, first.id, 1)
    assert documents_of(store, study) == (first, summary, second)
    assert study_state(store, study).signed[DocumentKind.LETTER].version == 2


def test_who_has_not_seen_the_newest_version_may_not_sign_over_it(store: Store, study: str) -> None:
    _sign(store, study, "d")

    with pytest.raises(RefusedActionError, match=r"version 1 of the letter stands already.*Load the study anew"):
        _sign(store, study, "e")
    with pytest.raises(RefusedActionError, match="no summary was signed yet"):
        _sign(store, study, "e", supersedes=sample_id("d"), kind=DocumentKind.SUMMARY)
    assert len(documents_of(store, study)) == len(entries_of(store, study)) == 1


def test_a_repeated_signature_adds_nothing(store: Store, study: str) -> None:
    first = _sign(store, study, "d")

    assert _sign(store, study, "d") == first
    assert len(documents_of(store, study)) == len(entries_of(store, study)) == 1
    with pytest.raises(UsedIdError, match="another signed paper"):
        sign_document(store, study, DocumentKind.LETTER, LETTER[:1], author="M", document=sample_id("d"))


def test_the_last_letter_is_the_newest_to_the_same_trainee_about_an_earlier_study(store: Store) -> None:
    def sent(key: str, trainee: str) -> str:
        study = add_study(store, sample_id(key), title=key).id
        record_event(store, study, StudyAssembled(study=sample_study(1, key, trainee=trainee)), house=HOUSE)
        return study

    first, other = sent("1", "T. Rowan"), sent("2", "S. Birch")
    second, third = sent("3", "T. Rowan"), sent("4", "T. Rowan")
    alone = sent("5", "")
    assert last_letter(store, third) is None
    letter = _sign(store, first, "d")
    _sign(store, other, "e")
    _sign(store, alone, "f")
    assert last_letter(store, third) == letter
    addendum = _sign(store, first, "g", supersedes=letter.id)
    assert last_letter(store, third) == addendum
    newer = _sign(store, second, "h")

    assert last_letter(store, third) == newer
    assert last_letter(store, second) == addendum
    assert last_letter(store, first) is None
    assert last_letter(store, alone) is None


def test_the_last_letter_goes_by_the_newest_sheet_of_each_study(store: Store) -> None:
    """A corrected request sheet gives a letter to another trainee; names are told apart without capitals and spaces."""

    def said(study: str, key: str, trainee: str) -> None:
        record_event(store, study, StudyAssembled(study=sample_study(1, key, trainee=trainee)), house=HOUSE)

    first, second = (add_study(store, sample_id(key), title=key).id for key in ("1", "2"))
    said(first, "1", "T. Rowan")
    said(second, "2", "t.  rowan")
    letter = _sign(store, first, "d")
    assert last_letter(store, second) == letter
    said(first, "1", "S. Birch")
    assert last_letter(store, second) is None
    said(second, "2", "S. Birch")
    assert last_letter(store, second) == letter


def test_a_paper_needs_parts_of_different_names(store: Store, study: str) -> None:
    for parts in ([], [LETTER[0], LETTER[0]]):
        with pytest.raises(ValueError, match="at least one part, each with a name of its own"):
            sign_document(store, study, DocumentKind.LETTER, parts, author="M", document=new_id())


def test_changed_and_missing_papers_are_named(store: Store, study: str) -> None:
    document = _sign(store, study, "d")
    assert verify_store(store).is_whole
    html, pdf = (store.originals.path(part.sha256) for part in document.parts)
    html.chmod(0o600)
    html.write_bytes(b"<p>Badly done.</p>")
    pdf.chmod(0o600)
    pdf.unlink()
    damage = verify_store(store).damage

    assert [item.found for item in damage] == ["its bytes have changed", "it is not there"]
    assert f"letter.html of signed paper {document.id}" in damage[0].where
    assert "letter.pdf" in damage[1].where


def test_a_changed_list_of_parts_is_named(store: Store, study: str) -> None:
    """Somebody adds a part to a signed paper, past the triggers' reach: a new row is no change."""
    document = _sign(store, study, "d")
    with store.database.write() as connection:
        connection.exec_driver_sql(
            "INSERT INTO parts (document, name, media_type, sha256, size)"
            " SELECT document, 'x', media_type, sha256, size FROM parts LIMIT 1"
        )

    assert [item.where for item in verify_store(store).damage] == [f"signed paper {document.id}"]


def test_an_original_without_a_row_is_told_apart_from_damage(store: Store, study: str) -> None:
    kept = store.originals.keep([b"a crash came before its row"])
    verification = verify_store(store)

    assert verification.is_whole
    assert verification.without_name == (kept.sha256,)


def test_messages_stay_on_the_thread_of_the_case(store: Store, study: str) -> None:
    second = add_study(store, new_id(), title="re-scan", parent=study).id
    asked = add_message(store, study, MessageKind.MORE_IMAGES, "A short axis, please.", author="M", message=new_id())
    sent = add_message(
        store, second, MessageKind.RESCAN, "Here it is.", author="T", message=sample_id("m"), answers=asked.id
    )
    again = add_message(
        store, second, MessageKind.RESCAN, "Here it is.", author="T", message=sample_id("m"), answers=asked.id
    )

    assert sent == again
    assert messages_of(store, study) == messages_of(store, second) == (asked, sent)
    assert (sent.answers, sent.study, sent.thread) == (asked.id, second, study)


def test_a_message_answers_only_on_its_own_thread(store: Store, study: str) -> None:
    other = add_study(store, new_id(), title="another case").id
    asked = add_message(store, other, MessageKind.NOTE, "n", author="M", message=new_id())

    with pytest.raises(UnknownRowError, match="its thread has no message"):
        add_message(store, study, MessageKind.REPLY, "r", author="M", message=new_id(), answers=asked.id)
    with pytest.raises(ValueError, match="author must not be empty"):
        add_message(store, study, MessageKind.NOTE, "r", author="", message=new_id())
    with pytest.raises(UnknownRowError, match="no such paper"):
        read_document(store, new_id())


def test_the_letters_before_a_study_are_those_to_its_trainee_in_the_order_of_the_studies(store: Store) -> None:
    def sent(key: str, trainee: str) -> str:
        study = add_study(store, sample_id(key), title=key).id
        record_event(store, study, StudyAssembled(study=sample_study(1, key, trainee=trainee)), house=HOUSE)
        return study

    first, other, second, unsigned, third = (
        sent(key, who) for key, who in (("1", "T"), ("2", "S"), ("3", "T"), ("4", "T"), ("5", "T"))
    )
    later, alone = sent("6", "T"), sent("7", "")
    newer = _sign(store, second, "b")
    old = _sign(store, first, "a")
    addendum = _sign(store, first, "c", supersedes=old.id)
    _sign(store, other, "d")
    _sign(store, later, "e")
    _sign(store, first, "s", kind=DocumentKind.SUMMARY)

    assert letters_before(store, third) == ((old, addendum), (newer,))
    assert letters_before(store, unsigned) == ((old, addendum), (newer,))
    assert letters_before(store, first) == ()
    assert letters_before(store, alone) == ()
    assert part_bytes(store, old, "letter.html") == LETTER[0].data
    assert part_bytes(store, old, "record.json") is None


def test_a_trainee_is_one_however_the_name_is_typed(store: Store) -> None:
    """As in `study.names`: capitals, spaces and stored accents; another order of words is another person."""

    def sent(key: str, trainee: str) -> str:
        study = add_study(store, sample_id(key), title=key).id
        record_event(store, study, StudyAssembled(study=sample_study(1, key, trainee=trainee)), house=HOUSE)
        return study

    first, other, now = sent("1", "Jose\u0301  OKAFOR"), sent("2", "Okafor José"), sent("3", "José Okafor")
    letter = _sign(store, first, "a")
    _sign(store, other, "b")

    assert letters_before(store, now) == ((letter,),)
    assert last_letter(store, now) == letter
    assert last_letters(store, (first, other, now)) == {now: letter}
