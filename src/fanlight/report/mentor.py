"""What a person adds to letter and summary, and the line under it: nothing of this comes from the engine."""

from __future__ import annotations

from dataclasses import dataclass, replace

from fanlight.report.document import Block, Document, Facts, Heading, Items, Paragraph, Voice
from fanlight.report.shown import ShownInClip
from fanlight.study import Evidence

NOT_AUTHENTICATED = "locally entered name, not authenticated"
UNSIGNED = "Draft, not signed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Signature:
    """Who signed, when, and which version of the paper."""

    author: str
    on: str  # date in words
    version: int = 1
    replaces: str = ""  # of an addendum: who signed the version before, and when, in words
    changed: tuple[str, ...] = ()  # of an addendum: the sections that differ

    @property
    def line(self) -> str:
        """The line under a signed paper."""
        version = "" if self.version == 1 else f", version {self.version}"
        return f"Signed by {self.author} on {self.on} ({NOT_AUTHENTICATED}){version}."

    @property
    def addendum(self) -> str:
        """What an addendum replaces and changed; "" for the first version."""
        if self.version == 1:
            return ""
        changed = f"Changed: {', '.join(self.changed)}." if self.changed else "Nothing in its words has changed."
        return f"Version {self.version}; it replaces what {self.replaces}, and that stays readable. {changed}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cited:
    """A clip that a finding of the mentor's own rests on."""

    clip: str  # Clip.key
    title: str  # the finding, in a few words
    evidence: tuple[Evidence, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class MentorWords:
    """The mentor's part of a paper."""

    opening: str = ""
    closing: str = ""
    since_last: tuple[str, ...] = ()  # what the mentor says became of the last letter's corrections and exercise
    changes: tuple[str, ...] = ()  # that would resolve most, as the mentor kept them; they open the letter
    change_causes: tuple[str, ...] = ()  # the cause of each, in the same order; empty: not known
    findings: tuple[str, ...] = ()  # seen or overruled by the mentor, each with its place
    cited: tuple[Cited, ...] = ()  # clips of those that the mentor saw
    shown: tuple[ShownInClip, ...] = ()  # what views show and lack, clip by clip
    views_max: int = 0  # so many views that lack something are spelled out in the letter
    structures: tuple[tuple[str, str], ...] = ()  # name, and what the mentor says of it
    not_assessed: tuple[str, ...] = ()  # structures of which nobody said anything
    exercise: str = ""
    signature: Signature | None = None


def opening_blocks(mentor: MentorWords) -> list[Block]:
    """Return the mentor's first words, and who decided what follows."""
    said: list[Block] = [Paragraph(text=mentor.opening)] if mentor.opening else []
    note = "Proposals were made from the pictures; only what the mentor decided stands here."
    return [*said, Paragraph(text=note, voice=Voice.QUIET)]


def since_last_blocks(mentor: MentorWords, praise: tuple[str, ...] = ()) -> list[Block]:
    """Return what became of what the last letter asked for: as the mentor says, then praise from decided findings."""
    if not mentor.since_last and not praise:
        return []
    return [Heading(text="Since the last letter"), Items(entries=(*mentor.since_last, *praise))]


def finding_blocks(mentor: MentorWords) -> list[Block]:
    """Return what the mentor saw, in the mentor's words."""
    if not mentor.findings:
        return []
    return [Heading(text="From the mentor"), Items(entries=mentor.findings)]


def structure_blocks(mentor: MentorWords) -> list[Block]:
    """Return what the mentor says of valves, chambers, pericardium and great vessels."""
    if not mentor.structures:
        return []
    return [Heading(text="Judged by eye, by the mentor"), Facts(pairs=mentor.structures, columns=1)]


def exercise_blocks(mentor: MentorWords) -> list[Block]:
    """Return the next exercise."""
    return [Heading(text="Next exercise"), Paragraph(text=mentor.exercise)] if mentor.exercise else []


def closed_by(document: Document, mentor: MentorWords) -> Document:
    """Return the paper with the mentor's last words and the signature line; its status says whether it is signed."""
    last: list[Block] = [Paragraph(text=mentor.closing, voice=Voice.CLOSING)] if mentor.closing else []
    footer = document.footer.replace(" · drafted ", " · written ")
    if mentor.signature is None:
        return replace(document, status=UNSIGNED, blocks=(*document.blocks, *last), footer=footer)
    last.append(Paragraph(text=mentor.signature.line, voice=Voice.CLOSING))
    signature = mentor.signature
    status = f"Signed, {signature.on}" + (f", version {signature.version}" if signature.version > 1 else "")
    first = [Paragraph(lead="Addendum.", text=signature.addendum, voice=Voice.GIVEN)] if signature.addendum else []
    return replace(document, status=status, blocks=(*first, *document.blocks, *last), footer=footer)
