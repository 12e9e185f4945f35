"""What a person says of the causes behind a study before anything was proposed, and that it is shown from now on."""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.store.action_checks import needs


@dataclass(frozen=True, slots=True, kw_only=True)
class SayCauses:
    """The causes that a person sees behind a covered study; the same act again replaces them, none named: none acts."""

    through: tuple[str, ...]  # causes that run through the study
    some: tuple[str, ...]  # causes that act in single clips only
    # Filled in by the service, whatever a page sends.
    asked: tuple[tuple[str, str], ...] = ()  # causes that the clips could show, each with the fact its prior goes by
    not_shown: str = ""  # digest of the engine's causes and corrections, which were covered

    def __post_init__(self) -> None:
        named = (*self.through, *self.some)
        for cause in named:
            needs(self, **{"through" if cause in self.through else "some": cause})
        if len(set(named)) != len(named):
            twice = next(cause for cause in named if named.count(cause) > 1)
            raise ValueError(f"each cause stands once, in through or in some, got {twice} twice")


@dataclass(frozen=True, slots=True, kw_only=True)
class UncoverStudy:
    """What is proposed for the study is shown from now on, for good."""
