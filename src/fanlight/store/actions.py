"""Everything that a person does with a study, one frozen value a deed, and its name in the log.

A name keeps its meaning for ever: an action that must change its fields gets a new name beside the old one, and a new
field of an old action has a default. A clip is named by its key; frames count from 0.
"""

from __future__ import annotations

from fanlight.store.cause_actions import SayCauses, UncoverStudy
from fanlight.store.clip_actions import (
    AcceptFinding,
    AcceptFindings,
    AddFinding,
    JudgeBlind,
    JudgeStructure,
    NameMode,
    OverruleFinding,
    PlaceClip,
    TakeBackFinding,
    TakeClipOut,
    TickItem,
)
from fanlight.store.mark_actions import DrawMark, MoveMark, RemoveMark, SetScale, SetStripScale
from fanlight.store.paper_actions import (
    AcknowledgeCall,
    ChooseCorrection,
    EditText,
    FlagUrgency,
    JudgeAdvice,
    JudgeChange,
    NameFacts,
    OpenCall,
    OrderCorrections,
    RecordCall,
    SetClosed,
    SetExercise,
    Sign,
)

__all__ = [
    "NAMES",
    "UNDO",
    "AcceptFinding",
    "AcceptFindings",
    "AcknowledgeCall",
    "Action",
    "AddFinding",
    "ChooseCorrection",
    "DrawMark",
    "EditText",
    "FlagUrgency",
    "JudgeAdvice",
    "JudgeBlind",
    "JudgeChange",
    "JudgeStructure",
    "MoveMark",
    "NameFacts",
    "NameMode",
    "OpenCall",
    "OrderCorrections",
    "OverruleFinding",
    "PlaceClip",
    "RecordCall",
    "RemoveMark",
    "SayCauses",
    "SetClosed",
    "SetExercise",
    "SetScale",
    "SetStripScale",
    "Sign",
    "TakeBackFinding",
    "TakeClipOut",
    "TickItem",
    "UncoverStudy",
]

Action = (
    PlaceClip | NameMode | TakeClipOut | AcceptFinding | AcceptFindings | OverruleFinding | AddFinding
    | TakeBackFinding | TickItem | JudgeStructure | DrawMark | MoveMark | RemoveMark | SetScale | SetStripScale
    | FlagUrgency | JudgeBlind | EditText | ChooseCorrection | OrderCorrections | JudgeChange | SetExercise
    | JudgeAdvice | SetClosed | OpenCall | RecordCall | AcknowledgeCall | NameFacts | Sign | SayCauses
    | UncoverStudy
)  # fmt: skip

NAMES: dict[str, type[Action]] = {
    "place clip": PlaceClip,
    "name mode": NameMode,
    "take clip out": TakeClipOut,
    "accept finding": AcceptFinding,
    "accept findings": AcceptFindings,
    "overrule finding": OverruleFinding,
    "add finding": AddFinding,
    "take back finding": TakeBackFinding,
    "tick item": TickItem,
    "judge structure": JudgeStructure,
    "draw mark": DrawMark,
    "move mark": MoveMark,
    "remove mark": RemoveMark,
    "set scale": SetScale,
    "set strip scale": SetStripScale,
    "flag urgency": FlagUrgency,
    "judge blind": JudgeBlind,
    "say causes": SayCauses,
    "uncover study": UncoverStudy,
    "name facts": NameFacts,
    "edit text": EditText,
    "choose correction": ChooseCorrection,
    "order corrections": OrderCorrections,
    "judge change": JudgeChange,
    "set exercise": SetExercise,
    "judge advice": JudgeAdvice,
    "set closed": SetClosed,
    "open call": OpenCall,
    "record call": RecordCall,
    "acknowledge call": AcknowledgeCall,
    "sign": Sign,
}
UNDO = "undo"  # the log's own name for an entry that undoes another
